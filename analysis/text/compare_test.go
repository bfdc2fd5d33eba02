package text

import (
	"errors"
	"strings"
	"testing"

	"soakline/analysis"
	"soakline/analysis/compare"
)

func comparison(v compare.Verdict) compare.Comparison {
	n := analysis.Unknown()
	real := true
	return compare.Comparison{
		SetupChanges: []compare.SettingChange{{Key: "paste\x1b[2J", A: "", B: "new"}},
		ThermalPath:  compare.ThermalPath{Verdict: v, NearRatio: 0.71, NearLow: 0.66, NearHigh: 0.77, FarRatio: 1.01, FarLow: 0.97, FarHigh: 1.05, Why: "B has no rest before the load"},
		Metrics: []compare.Metric{
			{Name: "score", Unit: "points", A: 1510, B: 1548, ChangePct: 2.5, LowPct: 1.1, HighPct: 3.9, Real: &real},
			{Name: "thermal resistance", Unit: "K/W", A: 0.5, B: 0.4, ChangePct: -20, LowPct: n, HighPct: n, Why: "one run against one run"},
		},
		Warnings: []string{"two things changed"},
	}
}

// Each verdict names the part, its ratio with the interval, and the sides by their letters.
func TestVerdicts(t *testing.T) {
	for v, want := range map[compare.Verdict][]string{
		compare.Near:         {"near part", "in C", "0.71 times the resistance of A (0.66 to 0.77)", "far part is the same"},
		compare.Far:          {"far part", "1.01 times the resistance of A (0.97 to 1.05)", "near part is the same"},
		compare.Both:         {"Both parts", "0.71", "1.01"},
		compare.None:         {"No difference", "0.71", "1.01"},
		compare.Undetermined: {"undetermined", "C has no rest before the load"},
	} {
		got := Verdict(comparison(v), "A", "C")
		for _, w := range want {
			if !strings.Contains(got, w) {
				t.Errorf("%s: %q lacks %q", v, got, w)
			}
		}
	}
}

func TestCompareText(t *testing.T) {
	var b strings.Builder
	if err := Compare(&b, comparison(compare.Near)); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"(not noted) -> new", "1510.0 points -> 1548.0 points, +2.5 % (+1.1 to +3.9), real\n",
		"0.50 K/W -> 0.40 K/W, -20.0 %, real or chance: not known\n", "one run against one run", "two things changed"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%s\nlacks %q", b.String(), want)
		}
	}
	if strings.Contains(b.String(), "\x1b") {
		t.Error("a name reaches the terminal with its control characters")
	}
	if err := Compare(broken{}, comparison(compare.Near)); err == nil {
		t.Error("a failed write is not told")
	}
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, errors.New("the pipe is closed") }
