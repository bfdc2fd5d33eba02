package limiter

import (
	"math"

	"soakline/analysis/series"
	"soakline/analysis/step"
)

// warming is what power and clock did, as shares, while the die warmed by t kelvin, with
// their standard uncertainties.
type warming struct{ t, p, up, f, uf float64 }

// stories weighs two stories, each by its least sum of squared deviations over the leakage
// c, the share by which power grows with a kelvin at a fixed clock, which is the same in
// both: at its ceiling the clock stands and power grows by c t; at a power limit power
// stands and the clock must give way by c t/ClockPower. With little leakage both stand and
// neither story is the better one.
func stories(all []warming, th Thresholds) (ceiling, limit float64) {
	ceiling, limit = math.Inf(1), math.Inf(1)
	for c := 3e-5; c < 0.02; c *= 1.25 {
		prior := square(math.Log(c/th.Leak) / th.LnLeakSD)
		a, b := prior, prior
		for _, w := range all {
			a += square((w.p-c*w.t)/w.up) + square(w.f/w.uf)
			b += square(w.p/w.up) + square((w.f+c*w.t/th.ClockPower)/w.uf)
		}
		ceiling, limit = math.Min(ceiling, a), math.Min(limit, b)
	}
	return ceiling, limit
}

// across is the warming from pass to pass of a load: levels of about the power at are set
// against their die temperature by straight lines. One pass of a few seconds is too short
// to tell, many are not. The ends of a level are left out: samples there are half pause.
func across(s []series.Sample, levels []step.Level, at float64, sth step.Thresholds, th Thresholds) (warming, bool) {
	var die, power, clock, weight []float64
	low, high, mean := math.Inf(1), math.Inf(-1), 0.0
	for i := range levels {
		l := &levels[i]
		d := l.To - l.From - th.EndsS
		if d < 1 || !(math.Abs(l.Power-at) <= sth.SameW*at) {
			continue
		}
		part := series.Within(s, l.From+th.EndsS/2, l.To-th.EndsS/2)
		t, p, c := series.Mean(part, series.DieOf), series.Mean(part, series.PowerOf), series.Mean(part, series.ClockOf)
		if !series.Known(t) || !series.Known(p) || !series.Known(c) {
			continue
		}
		die, power, clock = append(die, t), append(power, p/at), append(clock, c)
		weight = append(weight, math.Min(d, 10))
		low, high, mean = math.Min(low, t), math.Max(high, t), mean+c
	}
	w := warming{t: high - low}
	if len(die) < 4 || w.t < th.CreepK {
		return w, false
	}
	w.p, w.up = slope(die, power, weight)
	w.f, w.uf = slope(die, clock, weight)
	mean /= float64(len(die))
	w.p, w.up = w.p*w.t, math.Max(w.up*w.t, 5e-4)
	w.f, w.uf = w.f*w.t/mean, math.Max(w.uf*w.t/mean, 3e-4)
	return w, true
}

// slope is that of y over x by weighted least squares, with its standard error from the
// scatter about the line.
func slope(x, y, w []float64) (b, u float64) {
	var sw, sx, sy float64
	for i := range x {
		sw, sx, sy = sw+w[i], sx+w[i]*x[i], sy+w[i]*y[i]
	}
	mx, my := sx/sw, sy/sw
	var xx, xy float64
	for i := range x {
		xx, xy = xx+w[i]*(x[i]-mx)*(x[i]-mx), xy+w[i]*(x[i]-mx)*(y[i]-my)
	}
	b = xy / xx
	var rr float64
	for i := range x {
		r := y[i] - my - b*(x[i]-mx)
		rr += w[i] * r * r
	}
	return b, math.Sqrt(rr / float64(len(x)-2) / xx)
}
