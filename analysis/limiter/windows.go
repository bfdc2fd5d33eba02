package limiter

import (
	"math"

	"soakline/analysis/series"
)

// window is the neighbourhood of a sample on the side where power is steadier, so that
// an edge does not blur into both of its sides.
type window struct {
	power   float64 // W, mean
	clock   float64 // MHz, mean
	clockSD float64 // MHz
	hottest float64 // degC, the highest die temperature up to the sensor's own delay later
}

// sums are running totals for means and variances over any stretch.
type sums struct{ w, p, pp, c, cc, cw float64 }

// windows computes the neighbourhood of every sample in one pass over running sums.
func windows(s []series.Sample, width float64) []window {
	total := make([]sums, len(s)+1)
	for i := range s {
		t := total[i]
		if p := s[i].Power; series.Known(p) {
			t.w += s[i].Dt
			t.p += p * s[i].Dt
			t.pp += p * p * s[i].Dt
		}
		if c := s[i].Clock; series.Known(c) {
			t.cw += s[i].Dt
			t.c += c * s[i].Dt
			t.cc += c * c * s[i].Dt
		}
		total[i+1] = t
	}
	out := make([]window, len(s))
	lead := sensorPace(s)
	lo, hi, late, hot := 0, 0, 0, highest{s: s}
	for i := range s {
		for s[i].At-s[lo].Start() > width+1e-9 && lo < i {
			lo++
		}
		for hi < len(s) && s[hi].At-s[i].Start() <= width+1e-9 || hi <= i {
			hi++
		}
		left, leftVar := between(&total[lo], &total[i+1])
		right, rightVar := between(&total[i], &total[hi])
		mid, midVar := between(&total[(lo+i)/2], &total[min((i+hi)/2+1, len(s))])
		out[i] = left
		best := leftVar
		if rightVar < best {
			out[i], best = right, rightVar
		}
		if midVar < best {
			out[i] = mid
		}
		for late < len(s) && s[late].Start()-s[i].Start() <= lead+1e-9 {
			late++
		}
		out[i].hottest = hot.until(i, late)
	}
	return out
}

// between is the mean over a stretch and the relative variance of power in it.
func between(a, b *sums) (window, float64) {
	w := window{power: math.NaN(), clock: math.NaN(), clockSD: math.NaN()}
	v := math.Inf(1)
	if d := b.w - a.w; d > 0 {
		w.power = (b.p - a.p) / d
		v = math.Max((b.pp-a.pp)/d-w.power*w.power, 0)
	}
	if d := b.cw - a.cw; d > 0 {
		w.clock = (b.c - a.c) / d
		w.clockSD = math.Sqrt(math.Max((b.cc-a.cc)/d-w.clock*w.clock, 0))
	}
	return w, v
}

// highest is a sliding maximum of the die temperature: a queue of falling candidates.
type highest struct {
	s     []series.Sample
	queue []int
	next  int
}

// until is the maximum over samples from..to-1; from and to must not fall.
func (h *highest) until(from, to int) float64 {
	for ; h.next < to; h.next++ {
		v := h.s[h.next].DieMax
		if !series.Known(v) {
			continue
		}
		for len(h.queue) > 0 && h.s[h.queue[len(h.queue)-1]].DieMax <= v {
			h.queue = h.queue[:len(h.queue)-1]
		}
		h.queue = append(h.queue, h.next)
	}
	for len(h.queue) > 0 && h.queue[0] < from {
		h.queue = h.queue[1:]
	}
	if len(h.queue) == 0 {
		return math.NaN()
	}
	return h.s[h.queue[0]].DieMax
}

// sensorPace is how often the die sensor renews, as seen from the fastest tenth of its
// changes, s: a temperature may be that late. At most 1 s.
func sensorPace(s []series.Sample) float64 {
	var gaps []float64
	last := math.NaN()
	for i := 1; i < len(s); i++ {
		if s[i].Die != s[i-1].Die && series.Known(s[i].Die) && series.Known(s[i-1].Die) {
			if series.Known(last) {
				gaps = append(gaps, s[i].At-last)
			}
			last = s[i].At
		}
	}
	if len(gaps) < 8 {
		return 1
	}
	return math.Min(upper(gaps, 0.1), 1)
}
