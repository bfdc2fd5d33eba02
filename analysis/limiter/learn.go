package limiter

import (
	"math"

	"soakline/analysis/load"
	"soakline/analysis/series"
)

// LearnThermal finds a thermal limit that nobody stated: the die stays within a kelvin
// of its highest temperature while power and clock move, as a thermal governor makes
// them. A die that is merely settled under constant power does not count. NaN if none.
func LearnThermal(s []series.Sample, spans []load.Span, th Thresholds) float64 {
	top := math.Inf(-1)
	for _, sp := range spans {
		for i := sp.First; i < sp.Last; i++ {
			if s[i].Die > top {
				top = s[i].Die
			}
		}
	}
	if top < th.HotFrom {
		return math.NaN()
	}
	for _, sp := range spans {
		var hot []series.Block // a run without interruption
		for _, b := range series.Blocks(s, sp.First, sp.Last, 1) {
			if b.Die >= top-1.2 {
				hot = append(hot, b)
				continue
			}
			if governed(hot, th) {
				return math.Round(top)
			}
			hot = hot[:0]
		}
		if governed(hot, th) {
			return math.Round(top)
		}
	}
	return math.NaN()
}

// governed is true for a long enough run in which power and clock move.
func governed(run []series.Block, th Thresholds) bool {
	return float64(len(run)) >= th.PinnedS &&
		moves(run, func(b *series.Block) float64 { return b.Power }, th.FlatPower) &&
		moves(run, func(b *series.Block) float64 { return b.Clock }, th.Dither)
}

// moves is true where the middle half of the values spans more than a share of their
// median: one fall at the end of a burst is no movement, a governor's saw is.
func moves(b []series.Block, of func(*series.Block) float64, share float64) bool {
	var v []float64
	for i := range b {
		if x := of(&b[i]); series.Known(x) {
			v = append(v, x)
		}
	}
	if len(v) < 4 {
		return false
	}
	return upper(v, 0.75)-upper(v, 0.25) > share*upper(v, 0.5)
}
