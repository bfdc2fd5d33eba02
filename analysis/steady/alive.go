package steady

import (
	"fmt"
	"math"

	"soakline/analysis/series"
)

// A sensor that has stopped repeats its last value for ever, and that looks settled. Two
// signs tell it from a die at rest on one code of a coarse sensor, without any knowledge
// of the path:
//
//   - the power changed and the reading did not;
//   - the reading used to flicker between codes, as noise makes it do, and now stands many
//     times longer than it ever stood under this load. A die that settles with one time
//     constant tau spends at least 0.69 tau on its last code but one (ln 2, from the
//     exponential), so its stretches grow by and by; a stopped sensor's do not.
const (
	standsS   = 60.0 // s, shorter stands are not judged
	standsOf  = 12.0 // times the longest stand before
	flickers  = 4    // changes of direction before the last stand that show a live, noisy reading
	movedPart = 0.2  // share by which power must have changed
	movedW    = 3.0  // and W
)

// stopped says why the die's reading over samples first..last-1 may come from a sensor
// that has stopped; "" where nothing speaks for it.
func stopped(s []series.Sample, first, last int) string {
	k := last - 1 // where the last stand begins
	for k > first && same(s[k-1].Die, s[last-1].Die) {
		k--
	}
	stand := s[last-1].At - s[k].At
	if stand < standsS {
		return ""
	}
	if k == first {
		rest := series.Mean(s[max(0, first-100):first], series.PowerOf)
		if !(series.Mean(s[first:last], series.PowerOf)-rest > movedW) {
			return ""
		}
		return fmt.Sprintf("the die's reading has not moved once under this load, for %.0f s: the sensor may have stopped", stand)
	}
	if before, after := series.Mean(s[max(first, k-20):k], series.PowerOf), series.Mean(s[max(k, last-100):last], series.PowerOf); math.Abs(after-before) > math.Max(movedW, movedPart*before) {
		return fmt.Sprintf("power went from %.0f to %.0f W and the die's reading has not moved for %.0f s: the sensor may have stopped", before, after, stand)
	}
	longest, turns := stands(s[first:k])
	if turns >= flickers && stand > standsOf*longest {
		return fmt.Sprintf("the die's reading has not moved for %.0f s and never stood for more than %.0f s before: the sensor may have stopped; a moment's rest will tell", stand, math.Ceil(longest))
	}
	return ""
}

// stands gives the longest time for which the reading stood, and how often it turned.
func stands(s []series.Sample) (longest float64, turns int) {
	since, last := s[0].At, 0.0
	for i := 1; i < len(s); i++ {
		d := s[i].Die - s[i-1].Die
		if same(s[i].Die, s[i-1].Die) || !series.Known(d) {
			continue
		}
		longest = math.Max(longest, s[i].At-since)
		since = s[i].At
		if d*last < 0 {
			turns++
		}
		last = d
	}
	return math.Max(longest, s[len(s)-1].At-since), turns
}

// same is true for two readings of one code.
func same(a, b float64) bool { return a == b }
