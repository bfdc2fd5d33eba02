package limiter

import (
	"math"

	"soakline/analysis/load"
	"soakline/analysis/series"
	"soakline/analysis/step"
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
			if governed(s, hot, th) {
				return math.Round(top)
			}
			hot = hot[:0]
		}
		if governed(s, hot, th) {
			return math.Round(top)
		}
	}
	return math.NaN()
}

// governed is true for a long enough run in which power and clock move, beyond the noise
// of their readings, and move together: a governor turns the clock and power follows.
// Under a power limit power stands, and what is left of its noise knows no clock.
func governed(s []series.Sample, run []series.Block, th Thresholds) bool {
	run = withoutFall(run)
	n := len(run)
	if float64(n) < th.PinnedS {
		return false
	}
	first, last := run[0].First, run[n-1].Last
	power := func(b *series.Block) float64 { return b.Power }
	return moves(run, power, th.FlatPower) && step.Moves(s, first, last, 1, series.PowerOf) >= th.FlatPower/2 &&
		step.Moves(s, first, last, 1, series.ClockOf) >= th.Dither && together(run) > th.Together
}

// withoutFall cuts a run at one change of power that explains most of how power moves,
// the end of a burst, and keeps the longer side, again and again.
func withoutFall(run []series.Block) []series.Block {
	for {
		k, share := fallOf(run)
		if share < 0.7 {
			return run
		}
		if 2*k > len(run) {
			run = run[:k]
		} else {
			run = run[k:]
		}
	}
}

// fallOf is the best place to part the powers of a run in two, and the share of their
// variance that this explains.
func fallOf(run []series.Block) (at int, share float64) {
	mean, n := 0.0, float64(len(run))
	for i := range run {
		mean += run[i].Power / n
	}
	total, sum := 0.0, 0.0
	for i := range run {
		total += (run[i].Power - mean) * (run[i].Power - mean)
	}
	for i := 1; i < len(run); i++ {
		sum += run[i-1].Power - mean
		if v := sum * sum * n / (float64(i) * (n - float64(i))) / total; v > share {
			at, share = i, v
		}
	}
	return at, share
}

// together is the correlation of power and clock over a run, after a straight line in time
// was taken from both: a slow drift says nothing.
func together(run []series.Block) float64 {
	p, c := detrended(run, func(b *series.Block) float64 { return b.Power }), detrended(run, func(b *series.Block) float64 { return b.Clock })
	var pp, cc, pc float64
	for i := range p {
		if series.Known(p[i]) && series.Known(c[i]) {
			pp, cc, pc = pp+p[i]*p[i], cc+c[i]*c[i], pc+p[i]*c[i]
		}
	}
	return pc / math.Sqrt(pp*cc)
}

// detrended is a quantity over a run less its straight line by least squares.
func detrended(run []series.Block, of func(*series.Block) float64) []float64 {
	var n, x, y, xx, xy float64
	for i := range run {
		if v := of(&run[i]); series.Known(v) {
			t := float64(i)
			n, x, y, xx, xy = n+1, x+t, y+v, xx+t*t, xy+t*v
		}
	}
	slope := (n*xy - x*y) / (n*xx - x*x)
	out := make([]float64, len(run))
	for i := range run {
		out[i] = of(&run[i]) - (y-slope*x)/n - slope*float64(i)
	}
	return out
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
