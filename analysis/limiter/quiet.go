package limiter

import (
	"math"

	"soakline/analysis/changepoint"
	"soakline/analysis/series"
	"soakline/analysis/step"
)

// quietLimit finds a long-term limit that no fall of power shows, because the load ran but
// a little above it: power creeps up by leakage at the highest clock until it meets the
// limit; from there on power stands and the clock gives way, by a per cent or so. An exact
// search on the clock's means over a second finds that place, which levels of power and
// clock at 5 % cannot. NaN where there is none.
func quietLimit(s []series.Sample, f step.Found, l Limits, sth step.Thresholds, th Thresholds) float64 {
	for i := range f.Levels {
		v := &f.Levels[i]
		if v.To-v.From < 3*th.Lasting || v.Scatter > sth.Pinned || v.DieMax >= l.Thermal-sth.HotK || v.Clock < (1-th.BelowCeiling)*l.Ceiling {
			continue
		}
		if from := leavesCeiling(s, v, th); from >= 0 && heldFrom(s[from:v.Last], th) {
			return series.Mean(s[from:v.Last], series.PowerOf)
		}
	}
	return math.NaN()
}

// leavesCeiling is the first sample of a level from which its clock is below that of its
// beginning, in every stretch after it, for Lasting or longer; -1 if none.
func leavesCeiling(s []series.Sample, v *step.Level, th Thresholds) int {
	blocks := series.Blocks(s, v.First, v.Last, 1)
	var clock []float64
	var at []int
	for i := range blocks {
		if series.Known(blocks[i].Clock) {
			clock, at = append(clock, blocks[i].Clock), append(at, blocks[i].First)
		}
	}
	parts := changepoint.Segments(clock, changepoint.Options{MinShare: th.Dither, Shortest: 10})
	if len(parts) < 2 {
		return -1
	}
	top := parts[0]
	for _, p := range parts[1:] {
		if p.Mean > top.Mean-3*math.Hypot(p.SE, top.SE) {
			return -1
		}
	}
	last := parts[len(parts)-1]
	if last.Mean > (1-2*th.Dither)*top.Mean || s[v.Last-1].At-s[at[parts[1].Start]].At < th.Lasting {
		return -1
	}
	return at[parts[1].Start]
}

// heldFrom is true where power stands while the clock gives way as the die warms, better
// than it creeps at a standing clock.
func heldFrom(part []series.Sample, th Thresholds) bool {
	n := max(len(part)/3, 1)
	first, last := part[:n], part[len(part)-n:]
	w := warming{t: math.Max(series.Mean(last, series.DieOf)-series.Mean(first, series.DieOf), 0)}
	w.p, w.up = growth(first, last, series.PowerOf)
	w.f, w.uf = growth(first, last, series.ClockOf)
	if !series.Known(w.t) {
		return false
	}
	ceiling, limit := stories([]warming{w}, th)
	return ceiling-limit > th.CeilingPrior
}
