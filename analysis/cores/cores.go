// Package cores owns the hot-spot spread: how much hotter one core is than its
// neighbours at load, in kelvin and per watt, whether that grows, and whether it has
// changed since an earlier session of the same machine.
//
// It takes means over short blocks of time; it knows no channel and no path.
package cores

import (
	"math"

	"soakline/analysis/series"
	"soakline/analysis/stats"
)

// Thresholds of the verdict, K at load: common practice, no source. Cores of one die under
// an even load lie within a few kelvin of each other; a lifted corner of the cooler or a
// void in the paste shows as ten and more.
type Thresholds struct {
	Even     float64 // K, up to this the cores are even
	Marked   float64 // K, from this on one stands out
	Widest   float64 // K, an interval wider than this says nothing
	Blocks   int     // the fewest blocks at load
	Settle   float64 // s after the start of load that are left out
	LeastW   float64 // W, least difference of power between load and rest
	SameCore float64 // share by which K/W may differ between sessions before one speaks of a change
}

// Defaults are the thresholds in use.
func Defaults() Thresholds {
	return Thresholds{Even: 5, Marked: 8, Widest: 6, Blocks: 5, Settle: 10, LeastW: 2, SameCore: 0.1}
}

// Value is an estimate with its 90 % interval.
type Value struct{ Value, Low, High float64 }

const normal90 = 1.6449

func about(v, u float64) Value { return Value{v, v - normal90*u, v + normal90*u} }

func unknown() Value { n := math.NaN(); return Value{n, n, n} }

// U is the standard uncertainty.
func (v Value) U() float64 { return (v.High - v.Low) / (2 * normal90) }

// Load is what is known of one load: blocks of it and of the rest before it, the columns
// of the cores in them, the resolution of their sensors in K, and mean powers.
type Load struct {
	At, Rest     []series.TrackBlock
	Columns      []int
	Step         float64
	Power, RestW float64 // W
}

// Verdict says how even the cores are.
type Verdict string

// The verdicts.
const (
	Even         Verdict = "even"
	Slight       Verdict = "slightly uneven"
	StandsOut    Verdict = "one core stands out"
	Undetermined Verdict = "undetermined"
)

// Spread is the answer. Core is the place of the hottest core in Load.Columns, -1 none.
type Spread struct {
	Core    int
	K       Value // the hottest core over the median of the others, at load
	Rest    Value // the same core over the same median at rest: mostly the sensors' own offsets
	KPerW   Value // growth of the one to the other by power, which offsets cannot spoil
	Trend   Value // K, from the first third of the load to the last
	Verdict Verdict
	Why     string
}

// Judge works the spread out.
func Judge(l Load, th Thresholds) Spread {
	out := Spread{Core: -1, K: unknown(), Rest: unknown(), KPerW: unknown(), Trend: unknown(), Verdict: Undetermined}
	if len(l.Columns) < 3 {
		out.Why = "fewer than three core temperatures are recorded"
		return out
	}
	at := l.At
	for len(at) > th.Blocks && at[0].From < l.At[0].From+th.Settle {
		at = at[1:]
	}
	if len(at) < th.Blocks {
		out.Why = "the load is too short"
		return out
	}
	hottest := l.hottest(at)
	if hottest < 0 {
		out.Why = "no core temperature is known at load"
		return out
	}
	out.Core = hottest
	over := l.excess(at, hottest)
	if len(over) < th.Blocks {
		out.Why = "too few core temperatures are known at load"
		return out
	}
	out.K = l.mean(over)
	n := len(over) / 3
	first, last := l.mean(over[:max(n, 1)]), l.mean(over[len(over)-max(n, 1):])
	out.Trend = about(last.Value-first.Value, math.Hypot(first.U(), last.U()))
	dw, u := l.Power, out.K.U()
	rise := out.K.Value
	if rest := l.excess(l.Rest, hottest); len(rest) >= th.Blocks && series.Known(l.RestW) {
		out.Rest = l.mean(rest)
		rise, dw, u = rise-out.Rest.Value, dw-l.RestW, math.Hypot(u, out.Rest.U())
	}
	if dw >= th.LeastW {
		out.KPerW = about(rise/dw, u/dw)
	}
	switch k := out.K; {
	case !(k.High-k.Low <= th.Widest):
		out.Why = "the readings scatter too much"
	case k.Value >= th.Marked:
		out.Verdict = StandsOut
	case k.Value <= th.Even:
		out.Verdict = Even
	default:
		out.Verdict = Slight
	}
	return out
}

// hottest is the core of the highest mean.
func (l Load) hottest(at []series.TrackBlock) int {
	best, top := -1, math.Inf(-1)
	for i, c := range l.Columns {
		sum, n := 0.0, 0.0
		for _, b := range at {
			if v := float64(b.Mean[c]); series.Known(v) {
				sum, n = sum+v, n+1
			}
		}
		if n > 0 && sum/n > top {
			best, top = i, sum/n
		}
	}
	return best
}

// excess is the core's temperature over the median of the others, block by block, K.
func (l Load) excess(at []series.TrackBlock, core int) []float64 {
	var out []float64
	others := make([]float64, 0, len(l.Columns))
	for _, b := range at {
		others = others[:0]
		for i, c := range l.Columns {
			if v := float64(b.Mean[c]); i != core && series.Known(v) {
				others = append(others, v)
			}
		}
		if d := float64(b.Mean[l.Columns[core]]) - stats.Median(others); len(others) >= 2 && series.Known(d) {
			out = append(out, d)
		}
	}
	return out
}

// mean is the mean of correlated differences: its standard error grows by
// sqrt((1+r)/(1-r)) with the lag-1 correlation r, and is never below what the sensors'
// resolution leaves in a single reading and in a median, q/sqrt(12) each.
func (l Load) mean(x []float64) Value {
	m := stats.Mean(x)
	var v, c float64
	for i := range x {
		v += (x[i] - m) * (x[i] - m)
		if i > 0 {
			c += (x[i] - m) * (x[i-1] - m)
		}
	}
	se := 0.0
	if n := float64(len(x)); n > 1 && v > 0 {
		r := math.Min(math.Max(c/v, 0), 0.95)
		se = math.Sqrt(v / (n - 1) / n * (1 + r) / (1 - r))
	}
	step := l.Step
	if !(step > 0) {
		step = 1
	}
	return about(m, math.Hypot(se, step/math.Sqrt(6)))
}

// Change is how the spread has changed.
type Change string

// The changes.
const (
	Grown     Change = "grown"
	Shrunk    Change = "shrunk"
	Unchanged Change = "unchanged"
	Unknown   Change = "undetermined"
)

// Against compares K/W with that of an earlier session: the difference with its interval,
// and what it amounts to.
func Against(now, earlier Value, th Thresholds) (diff Value, c Change) {
	diff = about(now.Value-earlier.Value, math.Hypot(now.U(), earlier.U()))
	same := th.SameCore * math.Max(math.Abs(now.Value), math.Abs(earlier.Value))
	switch {
	case math.IsNaN(diff.Low):
		return diff, Unknown
	case diff.Low > 0 && diff.Value > same:
		return diff, Grown
	case diff.High < 0 && -diff.Value > same:
		return diff, Shrunk
	case math.Abs(diff.Value) <= 2*same || diff.High-diff.Low < 4*same:
		return diff, Unchanged
	}
	return diff, Unknown
}
