package series

import "math"

// compact merges old samples: singles into means over 1 s but near edges, and means
// over 1 s into 10 s where even these became many. It keeps the order and the total
// time. Blocks lie on the absolute grid of whole seconds.
func (s *Store) compact() {
	cut := len(s.samples) - rawKept + rawBatch/2
	keep := s.nearEdge(s.rawFrom, cut)
	out := s.samples[:s.rawFrom]
	for i := s.rawFrom; i < cut; {
		j := i + 1
		if !keep[i-s.rawFrom] {
			for j < cut && !keep[j-s.rawFrom] && sameBlock(&s.samples[i], &s.samples[j], 1) {
				j++
			}
		}
		out = append(out, Merge(s.samples[i:j]))
		i = j
	}
	s.rawFrom = len(out)
	s.samples = append(out, s.samples[cut:]...)
	s.Generation++
	if s.rawFrom > secondsKept {
		s.coarsen()
	}
}

// coarsen merges the older half of the compacted samples, edges included, to 10 s.
func (s *Store) coarsen() {
	cut := s.rawFrom / 2
	out := s.samples[:0]
	for i := 0; i < cut; {
		j := i + 1
		for j < cut && sameBlock(&s.samples[i], &s.samples[j], 10) {
			j++
		}
		out = append(out, Merge(s.samples[i:j]))
		i = j
	}
	shift := cut - len(out)
	s.samples = append(out, s.samples[cut:]...)
	s.rawFrom -= shift
}

func sameBlock(a, b *Sample, width float64) bool {
	return math.Floor(a.At/width) == math.Floor(b.At/width)
}

// nearEdge says for samples from..to which lie near an edge of power.
func (s *Store) nearEdge(from, to int) []bool {
	keep := make([]bool, to-from)
	until := math.Inf(-1)
	for i := from; i < to; i++ {
		if s.samples[i].edge {
			until = s.samples[i].At + edgeAfter
		}
		keep[i-from] = s.samples[i].At < until
	}
	since := math.Inf(1)
	for i := len(s.samples) - 1; i >= from; i-- {
		if s.samples[i].edge {
			since = s.samples[i].At - edgeBefore
		}
		if i < to && s.samples[i].At > since {
			keep[i-from] = true
		}
	}
	return keep
}

// Merge gives the time-weighted mean of adjacent samples. Reasons are those of the
// greatest share of time; DieMax is the highest.
func Merge(in []Sample) Sample {
	if len(in) == 1 {
		return in[0]
	}
	last := in[len(in)-1]
	out := blank(last.At, 0)
	var m [10]mean
	for i := range in {
		p := &in[i]
		out.Dt += p.Dt
		for k, v := range p.numbers() {
			m[k].add(v, p.Dt)
		}
		if !(p.DieMax <= out.DieMax) && Known(p.DieMax) {
			out.DieMax = p.DieMax
		}
		out.edge = out.edge || p.edge
	}
	out.Power, out.Die, out.Clock, out.Load, out.Ambient = m[0].value(), m[1].value(), m[2].value(), m[3].value(), m[4].value()
	out.Fan, out.LongLimit, out.ShortLimit = m[5].value(), m[6].value(), m[7].value()
	out.Window, out.ThermalLimit = m[8].value(), m[9].value()
	out.Reasons, out.Told = commonest(in)
	return out
}

func (s *Sample) numbers() [10]float64 {
	return [10]float64{s.Power, s.Die, s.Clock, s.Load, s.Ambient, s.Fan, s.LongLimit, s.ShortLimit, s.Window, s.ThermalLimit}
}

// commonest is the reason mask that stood longest.
func commonest(in []Sample) (uint64, bool) {
	best, longest, told := uint64(0), -1.0, false
	for i := range in {
		if !in[i].Told {
			continue
		}
		told = true
		sum := 0.0
		for j := range in {
			if in[j].Told && in[j].Reasons == in[i].Reasons {
				sum += in[j].Dt
			}
		}
		if sum > longest {
			best, longest = in[i].Reasons, sum
		}
	}
	return best, told
}

type mean struct{ sum, weight float64 }

func (m *mean) add(v, w float64) {
	if Known(v) {
		m.sum += v * w
		m.weight += w
	}
}

func (m *mean) value() float64 {
	if m.weight == 0 {
		return math.NaN()
	}
	return m.sum / m.weight
}
