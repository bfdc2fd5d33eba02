package analysis

import (
	"math"
	"slices"
	"strconv"

	"soakline/analysis/series"
	"soakline/analysis/step"
)

// normal90 is the half-width of a 90 % interval in standard uncertainties.
const normal90 = 1.6449

// band gives an interval about a value.
func band(v, u float64) (low, high Number) {
	return Number(v - normal90*u), Number(v + normal90*u)
}

// powerStep describes the first fall from a burst and those after it.
func (a *answer) powerStep() PowerStep {
	p := PowerStep{TimeS: Unknown(), ShortW: Unknown(), ShortLowW: Unknown(), ShortHighW: Unknown(),
		LongW: Unknown(), LongLowW: Unknown(), LongHighW: Unknown(),
		TimeConstantS: Unknown(), TimeConstantLowS: Unknown(), TimeConstantHighS: Unknown(),
		StatedLongW: Number(a.stated.Long), StatedShortW: Number(a.stated.Short), StatedTimeConstantS: Number(a.stated.Window),
		TimesS: []Number{}, Why: a.steps.Why}
	if len(a.steps.Falls) == 0 {
		return p
	}
	first := a.firstFall()
	fall := a.steps.Falls[first]
	level := a.steps.Levels[fall.Level]
	p.Found, p.TimeS = true, Number(fall.At)
	for i, f := range a.steps.Falls {
		if i != first {
			p.TimesS = append(p.TimesS, Number(f.At))
		}
	}
	cause := "power budget"
	if fall.Thermal {
		cause = "thermal"
	}
	p.Cause = &cause
	p.LongW, p.ShortW = Number(level.Power), Number(fall.Before)
	p.LongLowW, p.LongHighW = band(level.Power, math.Max(level.Se, 0.001*level.Power))
	p.ShortLowW, p.ShortHighW = band(fall.Before, 0.01*fall.Before)
	if fall.Thermal {
		p.Why = "heat, not the power budget, ended the burst: the time constant is not determined"
		return p
	}
	p.LongW = Number(a.limits.Long)
	p.LongLowW, p.LongHighW = band(a.limits.Long, math.Max(a.limits.ULong, 0.0005*a.limits.Long))
	if series.Known(a.limits.Short) {
		p.ShortW, p.ShortIsALimit = Number(a.limits.Short), a.limits.ShortBinds
		p.ShortLowW, p.ShortHighW = band(a.limits.Short, a.limits.UShort)
	}
	t := a.timeConstant()
	p.TimeConstantS, p.TimeConstantLowS, p.TimeConstantHighS, p.Why = Number(t.Value), Number(t.Low), Number(t.High), t.Why
	return p
}

// firstFall prefers falls that the power budget caused.
func (a *answer) firstFall() int {
	for i, f := range a.steps.Falls {
		if !f.Thermal {
			return i
		}
	}
	return 0
}

// timeConstant solves for tau from every fall to the long-term power.
func (a *answer) timeConstant() step.Tau {
	var hits []step.Hit
	for _, f := range a.steps.Falls {
		level := a.steps.Levels[f.Level].Power
		if f.Thermal || math.Abs(level-a.limits.Long) > a.o.th.Step.SameW*a.limits.Long {
			continue
		}
		i := min(series.Index(a.s, f.At), len(a.s)-1)
		hits = append(hits, step.Hit{At: f.At, Before: f.Before, Dt: a.s[i].Dt})
	}
	hits = hits[:min(len(hits), mostHits)]
	// The limit's mean moves in its last digits with every sample: four digits are enough,
	// and so the answer can be kept until something changes.
	long, u, warm := rounded(a.limits.Long, 4), rounded(a.limits.ULong, 1), a.warmWeight()
	k := &a.o.keptTau
	if generation := a.o.store.Generation + 1; k.generation != generation || !k.history.Covers(a.s, hits) {
		*k = keptTau{generation: generation, history: step.NewHistory(a.s, hits)}
	}
	if k.long != long || k.uLong != u || k.warm != warm || !slices.Equal(k.hits, hits) {
		k.hits, k.long, k.uLong, k.warm = hits, long, u, warm
		k.tau = step.Solve(a.s, &k.history, hits, long, u, warm, warm > 0.5, a.o.th.Step)
	}
	return k.tau
}

// mostHits is how many falls the time constant is solved from: more of them add nothing
// but time.
const mostHits = 24

// keptTau is the last time constant and what it was worked out from.
type keptTau struct {
	generation        int
	history           step.History
	hits              []step.Hit
	long, uLong, warm float64
	tau               step.Tau
}

// rounded keeps some significant digits.
func rounded(x float64, digits int) float64 {
	v, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', digits, 64), 64)
	if err != nil {
		return x
	}
	return v
}

// warmWeight is the prior weight of work before the first sample: greater where the
// die cooled while the machine rested.
func (a *answer) warmWeight() float64 {
	if len(a.load.Spans) == 0 {
		return a.o.th.WarmStart
	}
	rest := a.s[:a.load.Spans[0].First]
	if len(rest) < 4 {
		return a.o.th.WarmStart
	}
	n := max(len(rest)/8, 1)
	cooled := series.Mean(rest[:n+1], series.DieOf) - series.Mean(rest[len(rest)-n:], series.DieOf)
	if !series.Known(cooled) {
		return a.o.th.WarmStart
	}
	if cooled > a.o.th.CooledK {
		return a.o.th.WarmSeen
	}
	if cooled < a.o.th.KeptK {
		return a.o.th.WarmNot
	}
	return a.o.th.WarmStart
}

// powerLimit names the long-term limit even where no burst shows it.
func (a *answer) powerLimit() PowerLimit {
	p := PowerLimit{LongW: Unknown(), LongLowW: Unknown(), LongHighW: Unknown(), StatedLongW: Number(a.stated.Long)}
	if !series.Known(a.limits.Long) {
		p.Why = "power was held at no level that is known to be a limit"
		return p
	}
	p.LongW, p.Basis = Number(a.limits.Long), a.limits.LongBasis
	p.LongLowW, p.LongHighW = band(a.limits.Long, math.Max(a.limits.ULong, 0.0005*a.limits.Long))
	return p
}
