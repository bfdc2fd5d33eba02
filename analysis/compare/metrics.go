package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"soakline/analysis"
	"soakline/analysis/stats"
	"soakline/collector/telemetry"
)

// figure is a figure of merit of one run.
type figure struct {
	name, unit     string
	of             func(Run) float64
	higherIsBetter *bool // nil where nothing says so
}

// figures are the figures of merit, in the order of the table.
var figures = []figure{
	{"throughput", "1/s", func(r Run) float64 { return r.loadMean(telemetry.RoleThroughput) }, nil},
	{"sustained power", "W", sustained, nil},
	{"mean clock under load", "MHz", func(r Run) float64 { return float64(r.Result.Averages.ClockMHz) }, nil},
	{"1 % low of clock", "MHz", func(r Run) float64 { return float64(r.Result.Averages.ClockLow1Pct) }, nil},
	{"temperature over reference", "K", func(r Run) float64 {
		s, p := r.Result.Steady, r.Result.ThermalPath
		if s.ForecastC.Known() {
			return float64(s.ForecastC - p.ReferenceC)
		}
		return float64(s.TemperatureC - p.ReferenceC)
	}, nil},
	{"thermal resistance", "K/W", func(r Run) float64 { return float64(r.Result.ThermalPath.RthKPerW) }, nil},
	{"hot-spot spread", "K/W", func(r Run) float64 { return float64(r.Result.HotSpot.KPerW) }, nil},
	{"mean fan speed under load", "rpm", func(r Run) float64 { return r.loadMean(telemetry.RoleFan) }, nil},
}

func sustained(r Run) float64 {
	if p := r.Result.Steady.PowerW; p.Known() {
		return float64(p)
	}
	return float64(r.Result.PowerStep.LongW)
}

// metrics are those that at least one run of each side has.
func metrics(a, b []Run, o Options) []Metric {
	out := []Metric{}
	for _, f := range slices.Concat(scores(a, b), figures) {
		x, y := values(a, f.of), values(b, f.of)
		if len(x) > 0 && len(y) > 0 {
			m := Change(f.name, f.unit, x, y, o.Interleaved && len(x) == len(a) && len(y) == len(b))
			m.HigherIsBetter = f.higherIsBetter
			out = append(out, m)
		}
	}
	return out
}

func values(runs []Run, of func(Run) float64) []float64 {
	var out []float64
	for _, r := range runs {
		if v := of(r); v > 0 && !math.IsInf(v, 1) {
			out = append(out, v)
		}
	}
	return out
}

// Change compares one figure of merit of the runs a and b, all of them positive, on the
// logarithmic scale: change = exp(mean ln b - mean ln a) - 1, its interval by Welch 1947,
// or from the differences run by run where the runs were interleaved.
func Change(name, unit string, a, b []float64, paired bool) Metric {
	la, lb := logs(a), logs(b)
	none := analysis.Unknown()
	m := Metric{Name: name, Unit: unit, NA: len(a), NB: len(b), A: none, B: none, ChangePct: none, LowPct: none, HighPct: none, RunsNeeded: none}
	m.A, m.B = analysis.Number(math.Exp(stats.Mean(la))), analysis.Number(math.Exp(stats.Mean(lb)))
	d := stats.Mean(lb) - stats.Mean(la)
	m.ChangePct = pct(d)
	if len(a) < 2 || len(b) < 2 {
		m.Why = fmt.Sprintf("%s against %s: without at least two runs a side nothing says how much runs differ by themselves", runs(len(a)), runs(len(b)))
		return m
	}
	t := stats.Welch(lb, la)
	if paired && len(a) == len(b) {
		t = stats.Paired(lb, la)
	}
	low, high := t.Interval(0.95)
	if t.SE == 0 { // all runs alike to the last digit
		low, high = d, d
	}
	m.LowPct, m.HighPct = pct(low), pct(high)
	real := low > 0 || high < 0
	m.Real = &real
	sd := math.Sqrt((stats.Variance(la) + stats.Variance(lb)) / 2)
	if sd > 0 && d != 0 {
		m.RunsNeeded = analysis.Number(math.Max(2, math.Ceil(stats.RunsNeeded(d/sd, 0.8, 0.05))))
	}
	if !real && sd > 0 {
		n := min(len(a), len(b))
		m.Why = fmt.Sprintf("%s a side at a scatter of %.2g %% show changes of %.2g %% or more", runs(n), 100*sd, 100*sd*stats.Detectable(n, 0.8, 0.05))
	}
	return m
}

func runs(n int) string {
	if n == 1 {
		return "one run"
	}
	return fmt.Sprintf("%d runs", n)
}

func pct(d float64) analysis.Number { return analysis.Number(100 * math.Expm1(d)) }

func logs(x []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = math.Log(v)
	}
	return out
}

// isScore is true for the setup key that holds a score and is no condition.
func isScore(key string) bool { return strings.EqualFold(strings.TrimSpace(key), "score") }

// loadMean is the time-weighted mean of a channel over the load spans; NaN without it.
func (r Run) loadMean(role telemetry.Role) float64 {
	if r.Trace == nil {
		return math.NaN()
	}
	c := r.Trace.Index(role)
	if c < 0 {
		return math.NaN()
	}
	var sum, dt float64
	for _, sp := range r.Result.Load {
		for i := 1; i < len(r.Trace.Time); i++ {
			t, v := r.Trace.Time[i], r.Trace.Values[c][i]
			if t > float64(sp.StartS) && t <= float64(sp.EndS) && !math.IsNaN(v) {
				d := t - r.Trace.Time[i-1]
				sum, dt = sum+v*d, dt+d
			}
		}
	}
	return sum / dt
}
