package analysis

import (
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
	out.DieC, _ = meanAndLow(die)
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

// meanAndLow gives the mean and the mean of the lowest hundredth of the time. It sorts.
func meanAndLow(w []weighted) (mean, low Number) {
	if len(w) == 0 {
		return Unknown(), Unknown()
	}
	var sum, time float64
	for _, x := range w {
		sum += x.v * x.dt
		time += x.dt
	}
	slices.SortFunc(w, func(a, b weighted) int {
		switch {
		case a.v < b.v:
			return -1
		case a.v > b.v:
			return 1
		}
		return 0
	})
	left, worst := time/100, 0.0
	for _, x := range w {
		take := math.Min(left, x.dt)
		worst += take * x.v
		if left -= take; left <= 0 {
			break
		}
	}
	return Number(sum / time), Number(worst / (time / 100))
}
