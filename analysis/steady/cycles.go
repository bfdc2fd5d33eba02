package steady

import (
	"math"

	"soakline/analysis/series"
)

// cycles finds the last whole cycles of a load that comes in passes or in a duty cycle:
// n of them, from one end of a dip of power to the last such end. Cycles of quite
// another power are left out; n is 0 where there is none, or where the last stretch is
// so long that the dips have ended.
func cycles(s []series.Sample, first, last int) (from, to, n int) {
	ends := dipEnds(s, first, last)
	last1 := len(ends) - 1
	if last1 < 1 {
		return 0, 0, 0
	}
	mean := func(a, b int) float64 { return series.Mean(s[ends[a]:ends[b]], series.PowerOf) }
	length := func(a, b int) float64 { return s[ends[b]].At - s[ends[a]].At }
	k := last1 - 1
	longest := length(k, last1)
	for k > 0 && length(k, last1) < longCycles && math.Abs(mean(k-1, min(k+1, last1))/mean(k, last1)-1) < likeCycles {
		k--
		longest = math.Max(longest, length(k, k+1))
	}
	if s[last-1].At-s[ends[last1]].At > 2*longest {
		return 0, 0, 0
	}
	return ends[k], ends[last1], last1 - k
}

// Cycles are taken over so many seconds, with a mean power of neighbouring pairs that
// differs by this share: a limiter may let every other one burst.
const (
	longCycles = 150.0
	likeCycles = 0.15
)

// dipEnds are the samples at which power rises again after a dip near the power of
// rest.
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
	near := func(p float64) bool { return p < rest+0.2*(high-rest) }
	var ends []int
	low := first == 0 || near(s[first-1].Power)
	for i := first; i < last; i++ {
		switch {
		case near(s[i].Power):
			low = true
		case low && s[i].Power > rest+0.3*(high-rest):
			low = false
			ends = append(ends, i)
		}
	}
	return ends
}
