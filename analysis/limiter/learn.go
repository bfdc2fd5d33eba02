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
		var hot []series.Block
		for _, b := range series.Blocks(s, sp.First, sp.Last, 1) {
			if b.Die >= top-1.2 {
				hot = append(hot, b)
			}
		}
		if float64(len(hot)) < th.PinnedS {
			continue
		}
		if moves(hot, func(b *series.Block) float64 { return b.Power }, 1.5*th.FlatPower) &&
			moves(hot, func(b *series.Block) float64 { return b.Clock }, th.Dither) {
			return math.Round(top)
		}
	}
	return math.NaN()
}

// moves is true where the quantity scatters by more than a share of its mean.
func moves(b []series.Block, of func(*series.Block) float64, share float64) bool {
	var sum, sq, n float64
	for i := range b {
		if v := of(&b[i]); series.Known(v) {
			sum += v
			sq += v * v
			n++
		}
	}
	if n < 2 {
		return false
	}
	m := sum / n
	return math.Sqrt(math.Max(sq/n-m*m, 0)) > share*m
}
