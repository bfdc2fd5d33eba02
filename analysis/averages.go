package analysis

import (
	"cmp"
	"math"
	"slices"

	"soakline/analysis/limiter"
	"soakline/analysis/series"
)

// thermalHits are the stays at the hardware's thermal limit: by the die within half a
// degree, left at 1.5 K below, or by the hardware's own word.
func (a *answer) thermalHits() []ThermalHit {
	hits := []ThermalHit{}
	limit := a.limits.Thermal
	add := func(from, to float64) {
		if n := len(hits); n > 0 && from <= float64(hits[n-1].EndS)+1e-9 {
			hits[n-1].EndS = Number(math.Max(to, float64(hits[n-1].EndS)))
			return
		}
		hits = append(hits, ThermalHit{Number(from), Number(to), Number(limit)})
	}
	if a.o.word() != nil {
		for _, sp := range a.spans {
			if sp.Reported && sp.Kind == limiter.Thermal {
				add(sp.From, sp.To)
			}
		}
		if len(hits) > 0 {
			return hits
		}
	}
	if !series.Known(limit) {
		return hits
	}
	inside := false
	for i := range a.s {
		p := &a.s[i]
		if !series.Known(p.DieMax) {
			continue
		}
		inside = p.DieMax >= limit-0.5 || inside && p.DieMax > limit-1.5
		if inside {
			add(p.Start(), p.At)
		}
	}
	return hits
}

// weighted is a value and how long it stood.
type weighted struct{ v, dt float64 }

// averages are time-weighted over the load spans.
func (a *answer) averages(hits []ThermalHit) Averages {
	out := Averages{PowerW: Unknown(), PowerLow1PctW: Unknown(), ClockMHz: Unknown(), ClockLow1Pct: Unknown(),
		DieC: Unknown(), DieMaxC: Unknown(), ThermalHitsPct: Unknown(), LoadS: 0}
	var power, clock, die []weighted
	top := math.Inf(-1)
	loaded, hot := 0.0, 0.0
	for _, sp := range a.load.Spans {
		loaded += sp.To - sp.From
		for i := sp.First; i < sp.Last; i++ {
			p := &a.s[i]
			power = note(power, p.Power, p.Dt)
			clock = note(clock, p.Clock, p.Dt)
			die = note(die, p.Die, p.Dt)
			if p.DieMax > top {
				top = p.DieMax
			}
		}
		for _, h := range hits {
			hot += math.Max(0, math.Min(float64(h.EndS), sp.To)-math.Max(float64(h.StartS), sp.From))
		}
	}
	out.LoadS = Number(loaded)
	out.PowerW, out.PowerLow1PctW = meanAndLow(power)
	out.ClockMHz, out.ClockLow1Pct = meanAndLow(clock)
	out.DieC = meanOf(die)
	if !math.IsInf(top, -1) {
		out.DieMaxC = Number(top)
	}
	if loaded > 0 {
		out.ThermalHitsPct = Number(100 * hot / loaded)
	}
	return out
}

func note(to []weighted, v, dt float64) []weighted {
	if series.Known(v) && dt > 0 {
		return append(to, weighted{v, dt})
	}
	return to
}

// meanAndLow gives the mean and the mean of the lowest hundredth of the time. Only the
// low end is sorted: what lies under the bin of a histogram that holds the hundredth.
func meanAndLow(w []weighted) (mean, low Number) {
	if len(w) == 0 {
		return Unknown(), Unknown()
	}
	var sum, time float64
	lo, hi := w[0].v, w[0].v
	for _, x := range w {
		sum += x.v * x.dt
		time += x.dt
		lo, hi = math.Min(lo, x.v), math.Max(hi, x.v)
	}
	const bins = 256
	var held [bins + 1]float64
	bin := func(v float64) int { return int((v - lo) / (hi - lo + 1e-300) * bins) }
	for _, x := range w {
		held[bin(x.v)] += x.dt
	}
	k, below := 0, held[0]
	for below < time/100 && k < bins {
		k++
		below += held[k]
	}
	var tail []weighted
	for _, x := range w {
		if bin(x.v) <= k {
			tail = append(tail, x)
		}
	}
	return Number(sum / time), Number(lowest(tail, time/100))
}

// lowest is the mean of the lowest values that together stood for span seconds. It sorts.
func lowest(w []weighted, span float64) float64 {
	slices.SortFunc(w, func(a, b weighted) int { return cmp.Compare(a.v, b.v) })
	left, sum := span, 0.0
	for _, x := range w {
		take := math.Min(left, x.dt)
		sum += take * x.v
		if left -= take; left <= 0 {
			break
		}
	}
	return sum / (span - math.Max(left, 0))
}

// meanOf is the mean alone.
func meanOf(w []weighted) Number {
	var sum, time float64
	for _, x := range w {
		sum += x.v * x.dt
		time += x.dt
	}
	return Number(sum / time)
}
