package ladder

import (
	"math"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/analysis/stats"
)

// fewestPairs is from how many pairs on runs taken in turn are compared pair by pair: with
// two, one degree of freedom is left and nothing could ever be shown.
const fewestPairs = 3

// sample is a figure of one run with the run's place.
type sample struct {
	v     float64
	place int
}

// change compares a figure of two setups: by Welch's test (1947) on logarithms, or pair by
// pair where the runs were taken in turn, which takes out what drifts with the hours.
func change(name, unit string, a, b []sample) *compare.Metric {
	if len(a) == 0 || len(b) == 0 {
		return nil
	}
	paired := len(a) >= fewestPairs && inTurn(a, b)
	m := compare.Change(name, unit, values(a), values(b), paired)
	if paired && m.Why == "" {
		m.Why = "compared pair by pair: the runs were taken in turn"
	}
	return &m
}

func values(s []sample) []float64 {
	out := make([]float64, len(s))
	for i := range s {
		out[i] = s[i].v
	}
	return out
}

// inTurn is true where the two setups' runs came in blocks of one each: A B B A A B. Both are in order
// of place, and other setups may come in between.
func inTurn(a, b []sample) bool {
	if len(a) != len(b) {
		return false
	}
	last := -1
	for i := range a {
		if min(a[i].place, b[i].place) <= last {
			return false
		}
		last = max(a[i].place, b[i].place)
	}
	return true
}

// summary is a setup's figure: the geometric mean with Student's interval over the
// logarithms of its runs, or the one run's own.
func summary(f figure, vs []value) Figure {
	u := analysis.Unknown()
	out := Figure{Name: f.name, Unit: f.unit, Better: f.better, N: len(vs), Value: u, Low: u, High: u}
	switch len(vs) {
	case 0:
		out.Why = "no run gives it"
	case 1:
		out.Value, out.Low, out.High = analysis.Number(vs[0].v), analysis.Number(vs[0].low), analysis.Number(vs[0].high)
		out.Why = "one run: its own interval"
		if !out.Low.Known() {
			out.Why = "one run: no interval"
		}
	default:
		x := make([]float64, len(vs))
		for i, v := range vs {
			x[i] = math.Log(v.v)
		}
		n := float64(len(x))
		low, high := stats.Estimate{Value: stats.Mean(x), SE: stats.SD(x) / math.Sqrt(n), DF: n - 1}.Interval(0.9)
		out.Value, out.Low, out.High = analysis.Number(math.Exp(stats.Mean(x))), analysis.Number(math.Exp(low)), analysis.Number(math.Exp(high))
		out.Why = "interval between runs"
	}
	return out
}
