package analysis

import (
	"math"

	"soakline/analysis/series"
)

// Errors common to all traces of one machine, which cancel between its runs: the class of
// a die sensor and the gain of a power meter, as standard uncertainties (common practice,
// no source: one kelvin or more, two to five per cent).
const (
	sensorClassK = 1.0
	meterGain    = 0.03
)

// budget lists what the interval of the resistance is made of (JCGM 100:2008, 5.1): the
// components that are known apart, and as the last one what remains, which is the settling
// that the fitted path has still to foresee.
func (a *answer) budget(r *Result) {
	p := &r.ThermalPath
	p.Budget = []BudgetLine{}
	rth, power := float64(p.RthKPerW), float64(r.Steady.PowerW)
	total := float64(p.RthHighKPerW-p.RthLowKPerW) / (2 * normal90)
	if !(rth > 0) || !(power > 0) || !(total > 0) {
		return
	}
	left := total * total
	add := func(what string, u float64) {
		if !(u > 0) {
			return
		}
		u = math.Min(u, math.Sqrt(left)) // no part is larger than the whole
		left = math.Max(left-u*u, 0)
		p.Budget = append(p.Budget, BudgetLine{What: what, UKPerW: Number(u), SharePct: Number(100 * u * u / (total * total))})
	}
	add("power, scatter and linearity of the meter", a.o.th.MeterShare*rth)
	add("die temperature, resolution and noise", a.o.th.Steady.FloorK/power)
	add("drift of the reference", a.referenceDrift()/math.Sqrt(12)/power)
	rest := "offset between die and reference sensors"
	switch {
	case p.ReferenceSource != "ambient temperature":
		rest = "the reference, which is not measured, and its change during the trace"
	case !r.Steady.Reached:
		rest = "settling still to come, and the offset between the sensors"
	}
	add(rest, math.Sqrt(left))
	common := func(what string, u float64) {
		p.Budget = append(p.Budget, BudgetLine{What: what, UKPerW: Number(u), SharePct: Unknown(), Common: true})
	}
	common("accuracy of the die sensor", sensorClassK/power)
	common("gain of the power meter", meterGain*rth)
}

// referenceDrift is how far the measured reference moved over the main load, K; 0 without.
func (a *answer) referenceDrift() float64 {
	sp, ok := a.mainLoad()
	if !ok {
		return 0
	}
	part := a.s[sp.First:sp.Last]
	n := max(len(part)/10, 1)
	d := math.Abs(series.Mean(part[len(part)-n:], series.AmbientOf) - series.Mean(part[:n], series.AmbientOf))
	if !series.Known(d) {
		return 0
	}
	return d
}
