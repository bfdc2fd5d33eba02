package compare

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"soakline/analysis"
	"soakline/analysis/stats"
	"soakline/analysis/thermal"
	"soakline/collector/telemetry"
)

// Run is one recording with its analysis.
type Run struct {
	Trace  *telemetry.Trace
	Result analysis.Result
}

// Of analyses a trace.
func Of(tr *telemetry.Trace, o analysis.Options) Run { return Run{tr, analysis.Analyze(tr, o)} }

// Options steers a comparison.
type Options struct {
	// Interleaved says that the runs were taken in turn, A B A B: they are then compared
	// pair by pair, which takes out what drifts with the hours.
	Interleaved bool
}

// Compare says what differs between the runs a and b.
func Compare(a, b []Run, o Options) Comparison {
	c := Comparison{Schema: Schema, SetupChanges: setupChanges(a, b), Metrics: []Metric{}, Warnings: []string{}}
	if len(a) == 0 || len(b) == 0 {
		n := analysis.Unknown()
		c.ThermalPath = ThermalPath{Verdict: Undetermined, NearRatio: n, NearLow: n, NearHigh: n, FarRatio: n, FarLow: n, FarHigh: n,
			SeparationS: n, NearA: n, FarA: n, NearB: n, FarB: n, Why: "one side has no run"}
		return c
	}
	var warnings []string
	c.ThermalPath, warnings = path(a, b)
	c.Metrics = metrics(a, b, o)
	c.Warnings = append(c.Warnings, setupWarnings(a, b, c.SetupChanges)...)
	c.Warnings = append(c.Warnings, warnings...)
	c.Warnings = append(c.Warnings, conditionWarnings(a, b)...)
	c.Warnings = append(c.Warnings, withinWarnings("A", a)...)
	c.Warnings = append(c.Warnings, withinWarnings("B", b)...)
	if len(a) < 2 || len(b) < 2 {
		c.Warnings = append(c.Warnings, fmt.Sprintf("%s against %s: the figures can be read, but whether a change is real needs at least two runs a side, better three", runs(len(a)), runs(len(b))))
	}
	return c
}

// seriesOf takes the columns that the path needs out of a trace.
func seriesOf(tr *telemetry.Trace) (thermal.Series, error) {
	if tr == nil || len(tr.Time) == 0 {
		return thermal.Series{}, errors.New("there is no trace")
	}
	die, power, energy := tr.Index(telemetry.RoleDie), tr.Index(telemetry.RolePower), tr.Index(telemetry.RoleEnergy)
	if die < 0 {
		return thermal.Series{}, errors.New("no die temperature was recorded")
	}
	s := thermal.Series{At: tr.Time, Temp: tr.Values[die]}
	switch {
	case power >= 0:
		s.Power = tr.Values[power]
	case energy >= 0:
		s.Power = quotient(tr.Time, tr.Values[energy])
	default:
		return thermal.Series{}, errors.New("no power was recorded")
	}
	if ref := tr.Index(telemetry.RoleAmbient); ref >= 0 {
		s.Ref = tr.Values[ref]
	}
	return s, nil
}

// quotient is the mean power between two readings of an energy counter; NaN where it
// restarted.
func quotient(t, e []float64) []float64 {
	p := make([]float64, len(t))
	p[0] = math.NaN()
	for i := 1; i < len(t); i++ {
		if p[i] = (e[i] - e[i-1]) / (t[i] - t[i-1]); p[i] < 0 || math.IsInf(p[i], 0) {
			p[i] = math.NaN()
		}
	}
	if len(p) > 1 {
		p[0] = p[1]
	}
	return p
}

// setupOf is a side's value of each key; runs that differ among themselves give all.
func setupOf(rs []Run) map[string]string {
	seen := map[string][]string{}
	for _, r := range rs {
		if r.Trace == nil {
			continue
		}
		last := map[string]string{}
		for _, s := range r.Trace.Setup {
			last[s.Key] = s.Value
		}
		for k, v := range last {
			if !slices.Contains(seen[k], v) {
				seen[k] = append(seen[k], v)
			}
		}
	}
	out := map[string]string{}
	for k, v := range seen {
		slices.Sort(v)
		out[k] = strings.Join(v, " / ")
	}
	return out
}

func setupChanges(a, b []Run) []SettingChange {
	sa, sb, out := setupOf(a), setupOf(b), []SettingChange{}
	keys := map[string]bool{}
	for _, m := range []map[string]string{sa, sb} {
		for k := range m {
			keys[k] = true
		}
	}
	for k := range keys {
		if sa[k] != sb[k] && !isScore(k) {
			out = append(out, SettingChange{k, sa[k], sb[k]})
		}
	}
	slices.SortFunc(out, func(x, y SettingChange) int { return strings.Compare(x.Key, y.Key) })
	return out
}

var counts = []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}

// setupWarnings says where more than one thing changed, or a side is no side.
func setupWarnings(a, b []Run, changes []SettingChange) []string {
	var out []string
	if n := len(changes); n > 1 {
		var keys []string
		for _, c := range changes {
			keys = append(keys, c.Key)
		}
		word := fmt.Sprint(n)
		if n < len(counts) {
			word = counts[n]
		}
		out = append(out, fmt.Sprintf("%s things changed between A and B: %s", word, strings.Join(keys, ", ")))
	}
	for _, side := range []struct {
		name string
		runs []Run
	}{{"A", a}, {"B", b}} {
		var keys []string
		for k, v := range setupOf(side.runs) {
			if strings.Contains(v, " / ") && !isScore(k) {
				keys = append(keys, k)
			}
		}
		slices.Sort(keys)
		if len(side.runs) > 1 && len(keys) > 0 {
			out = append(out, fmt.Sprintf("the runs of %s differ among themselves: %s", side.name, strings.Join(keys, ", ")))
		}
	}
	return out
}

// conditionWarnings says where the runs did not start alike or the fan ran otherwise.
func conditionWarnings(a, b []Run) []string {
	var out []string
	start := func(r Run) float64 { return r.startRise() }
	if x, y := mean(a, start), mean(b, start); math.Abs(x-y) > 3 {
		word := "warmer"
		if y < x {
			word = "cooler"
		}
		out = append(out, fmt.Sprintf("B started %.1f K %s over its reference than A (%.1f against %.1f K): scores of short loads are not comparable", math.Abs(y-x), word, y, x))
	}
	fan := func(r Run) float64 { return r.loadMean(telemetry.RoleFan) }
	if x, y := mean(a, fan), mean(b, fan); math.Abs(math.Log(y/x)) > 0.1 {
		out = append(out, fmt.Sprintf("the fan ran at %.0f rpm in A and %.0f rpm in B: that counts as a change of the far part", x, y))
	}
	return out
}

func mean(rs []Run, of func(Run) float64) float64 {
	var x []float64
	for _, r := range rs {
		x = append(x, of(r))
	}
	return stats.Mean(x)
}

// startRise is the die over the reference in the first five seconds, K.
func (r Run) startRise() float64 {
	if r.Trace == nil {
		return math.NaN()
	}
	die, ref := r.Trace.Index(telemetry.RoleDie), r.Trace.Index(telemetry.RoleAmbient)
	if die < 0 || ref < 0 {
		return math.NaN()
	}
	var x []float64
	for i, t := range r.Trace.Time {
		if t > 5 {
			break
		}
		x = append(x, r.Trace.Values[die][i]-r.Trace.Values[ref][i])
	}
	return stats.Median(x)
}
