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
	hottest float64 // degC, the highest die temperature from 0 to 1 s later: a sensor may be late
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
	lo, hi, hot := 0, 0, highest{s: s}
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
		out[i].hottest = hot.until(i, hi)
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
