package limiter

import (
	"math"

	"soakline/analysis/step"
)

// across weighs the same two stories as ceilingHolds, but from pass to pass of a load: the
// die being warmer in one than in another, a clock at its ceiling stands and power has
// grown by leakage, while under a power limit power stands and the clock has given way.
// Levels of about the power at are set against their die temperature by straight lines;
// one pass of a few seconds is too short to tell, many are not. The smaller sum of squared
// deviations is the better story.
func across(levels []step.Level, at float64, sth step.Thresholds, th Thresholds) (ceiling, limit float64, ok bool) {
	var die, power, clock, weight []float64
	low, high := math.Inf(1), math.Inf(-1)
	for i := range levels {
		l := &levels[i]
		d := l.To - l.From
		if d < 1 || !(math.Abs(l.Power-at) <= sth.SameW*at) || math.IsNaN(l.Clock) || math.IsNaN(l.Die) {
			continue
		}
		die, power, clock = append(die, l.Die), append(power, l.Power/at), append(clock, l.Clock)
		weight = append(weight, math.Min(d, 10))
		low, high = math.Min(low, l.Die), math.Max(high, l.Die)
	}
	if len(die) < 4 || high-low < th.CreepK {
		return 0, 0, false
	}
	p, up := slope(die, power, weight)
	f, uf := slope(die, clock, weight)
	t := high - low
	mean := 0.0
	for _, c := range clock {
		mean += c / float64(len(clock))
	}
	p, up = p*t, math.Max(up*t, 5e-4)
	f, uf = f*t/mean, math.Max(uf*t/mean, 3e-4)
	ceiling = square(f/uf) + square(math.Min(p-th.Creep*t, 0)/up)
	limit = square(p/up) + square(math.Max(f, 0)/uf)
	return ceiling, limit, true
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
