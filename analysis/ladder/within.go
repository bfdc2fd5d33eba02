package ladder

import (
	"math"
	"slices"

	"soakline/analysis"
	"soakline/analysis/stats"
	"soakline/collector/telemetry"
)

// The bootstrap within a run: how many values it draws from at most, how often it draws.
const (
	mostValues = 3000
	draws      = 200
)

// widths are the channels that are looked at within a run.
var widths = []telemetry.Role{telemetry.RoleClock, telemetry.RoleThroughput, telemetry.RolePower}

func within(r Run, seed uint64) []Width {
	out := []Width{}
	for _, role := range widths {
		if r.Trace == nil || r.Trace.Index(role) < 0 {
			continue
		}
		c := r.Trace.Index(role)
		x := r.afterBurst(c)
		if len(x) < 20 {
			continue
		}
		w := spread(x, seed)
		w.Channel, w.Unit = r.Trace.Channels[c].Name, r.Trace.Channels[c].Quantity.Unit()
		out = append(out, w)
	}
	return out
}

// afterBurst are a channel's values under load, those of the burst left out, in time.
func (r Run) afterBurst(c int) []float64 {
	from := math.Inf(-1)
	if p := r.Result.PowerStep; p.Found {
		from = float64(p.TimeS)
	}
	var x []float64
	for i, t := range r.Trace.Time {
		if v := r.Trace.Values[c][i]; t > from && !math.IsNaN(v) && underLoad(r.Result, t) {
			x = append(x, v)
		}
	}
	return x
}

// spread gives median and 1 % low (the mean of the lowest hundredth) of an autocorrelated
// series with 90 % intervals: quantiles of the stationary bootstrap (Politis, Romano 1994)
// with blocks of four correlation times, of which an eighth of the series is the most. A
// long series is thinned first; its correlation time is that of the whole.
func spread(x []float64, seed uint64) Width {
	u := analysis.Unknown()
	w := Width{N: len(x), EffectiveN: u}
	g := stats.CorrelationTime(x)
	if math.IsNaN(g) { // a constant
		g = 1
	} else {
		w.EffectiveN = analysis.Number(float64(len(x)) / g)
	}
	thin := (len(x) + mostValues - 1) / mostValues
	var y []float64
	for i := 0; i < len(x); i += thin {
		y = append(y, x[i])
	}
	w.Median, w.Low1Pct = analysis.Number(stats.Median(x)), analysis.Number(lowest(slices.Clone(x)))
	block := math.Min(math.Max(4*g/float64(thin), 1), float64(len(y))/8)
	var lows []float64
	medians := stats.StationaryBootstrap(y, block, draws, seed, func(z []float64) float64 {
		s := slices.Clone(z)
		lows = append(lows, lowest(s)) // sorts
		return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
	})
	m, l := stats.Quantiles(medians, 0.05, 0.95), stats.Quantiles(lows, 0.05, 0.95)
	w.MedianLow, w.MedianHigh = analysis.Number(m[0]), analysis.Number(m[1])
	w.Low1Low, w.Low1High = analysis.Number(l[0]), analysis.Number(l[1])
	return w
}

// lowest is the mean of the lowest hundredth, of one value at least; it sorts x.
func lowest(x []float64) float64 {
	slices.Sort(x)
	return stats.Mean(x[:max(1, len(x)/100)])
}
