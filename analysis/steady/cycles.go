package steady

import (
	"math"

	"soakline/analysis/series"
)

// cycles finds the last whole cycles of a load that comes in passes or in a duty cycle:
// from one end of a dip of power to the last such end. Only cycles of like mean power
// count, so that a burst before them is left out; ok is false where there is none, or
// where the last stretch is so long that the dips have ended.
func cycles(s []series.Sample, first, last int) (from, to int, ok bool) {
	ends := dipEnds(s, first, last)
	n := len(ends)
	if n < 2 {
		return 0, 0, false
	}
	mean := func(i int) float64 { return series.Mean(s[ends[i]:ends[i+1]], series.PowerOf) }
	length := func(i int) float64 { return s[ends[i+1]].At - s[ends[i]].At }
	k := n - 2
	longest, power := length(k), mean(k)
	for k > 0 && s[ends[n-1]].At-s[ends[k]].At < longCycles && math.Abs(mean(k-1)/power-1) < likeCycles {
		k--
		longest = math.Max(longest, length(k))
	}
	if s[last-1].At-s[ends[n-1]].At > 2*longest {
		return 0, 0, false
	}
	return ends[k], ends[n-1], true
}

// Cycles are taken over so many seconds, with a mean power that differs by this share.
const (
	longCycles = 150.0
	likeCycles = 0.06
)

// dipEnds are the samples at which power rises again after a dip near the power of
// rest, the load's first sample among them.
func dipEnds(s []series.Sample, first, last int) []int {
	high, rest := 0.0, math.Inf(1)
	for _, b := range series.Blocks(s, first, last, 1) {
		if series.Known(b.Power) {
			high = math.Max(high, b.Power)
		}
	}
	for i := range s[:last] {
		if series.Known(s[i].Power) {
			rest = math.Min(rest, s[i].Power)
		}
	}
	ends, low := []int{first}, false
	for i := first; i < last; i++ {
		switch share := (s[i].Power - rest) / (high - rest); {
		case share < 0.2:
			low = true
		case low && share > 0.3:
			low = false
			ends = append(ends, i)
		}
	}
	return ends
}
