package step

import (
	"cmp"
	"math"
	"slices"

	"soakline/analysis/load"
	"soakline/analysis/series"
)

// brief looks for falls to a limit that other falls have shown, where a pause in the load
// cuts the stay at it off: power lies on the limit, sample by sample, for as little as
// Brief, after a burst above it. Means over blocks will not do: one that is half burst
// and half pause can come to lie on the limit by chance.
func (f *Found) brief(s []series.Sample, spans []load.Span, limitC float64, th Thresholds) {
	for _, limit := range f.limits(th) {
		for _, sp := range spans {
			for i := sp.First; i < sp.Last; {
				j := i
				for j < sp.Last && math.Abs(s[j].Power-limit) <= th.Leave*limit {
					j++
				}
				if j-i >= 2 && s[j-1].At-s[i].Start() >= th.Brief && burstBefore(s, sp.First, i, limit, th) && !f.knows(s[i].Start()) {
					f.take(s, sp, i, j, limitC, th)
				}
				i = max(j, i+1)
			}
		}
	}
	slices.SortFunc(f.Falls, func(a, b Fall) int { return cmp.Compare(a.At, b.At) })
}

// burstBefore is true where power was above the limit right before sample i, one mixed
// sample between them left out.
func burstBefore(s []series.Sample, first, i int, limit float64, th Thresholds) bool {
	above := func(k int) bool { return k >= first && s[k].Power >= (1+th.Excess)*limit }
	return above(i-1) && (above(i-2) || i-2 < first) || above(i-2)
}

// limits are the powers to which falls that heat did not cause have led.
func (f *Found) limits(th Thresholds) (out []float64) {
	for _, fall := range f.Falls {
		p := f.Levels[fall.Level].Power
		same := func(q float64) bool { return math.Abs(q-p) < th.SameW*p }
		if !fall.Thermal && !slices.ContainsFunc(out, same) {
			out = append(out, p)
		}
	}
	return out
}

// knows is true where a fall is known at about this time.
func (f *Found) knows(at float64) bool {
	return slices.ContainsFunc(f.Falls, func(g Fall) bool { return math.Abs(g.At-at) < 0.5 })
}

// take makes samples first..last-1 a level and keeps it where power fell into it.
func (f *Found) take(s []series.Sample, sp load.Span, first, last int, limitC float64, th Thresholds) {
	l := measure(s, first, last)
	fall, ok := fallInto(s, sp, &l, th)
	if !ok {
		return
	}
	f.Levels = append(f.Levels, l)
	fall.Level, fall.Thermal = len(f.Levels)-1, hotAt(s, fall.At, limitC, th)
	f.Falls = append(f.Falls, fall)
}
