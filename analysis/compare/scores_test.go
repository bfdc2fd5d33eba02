package compare

import (
	"math"
	"testing"

	"soakline/collector/telemetry"
)

func scored(name, unit string, higher bool, values ...float64) []Run {
	var out []Run
	for _, v := range values {
		out = append(out, Run{Trace: &telemetry.Trace{Scores: []telemetry.Score{{Name: name, Value: v, Unit: unit, HigherIsBetter: higher}}}})
	}
	return out
}

// Scores that the runs were given are compared by name and unit, with their direction;
// seconds never meet points.
func TestScoresOfRuns(t *testing.T) {
	a := scored("render", "s", false, 100, 101, 99)
	b := scored("render", "s", false, 90, 91, 89)
	got := metrics(a, b, Options{})
	if len(got) != 1 || got[0].Name != "render" || got[0].Unit != "s" || got[0].NA != 3 {
		t.Fatalf("metrics %+v, want the one score", got)
	}
	m := got[0]
	if m.HigherIsBetter == nil || *m.HigherIsBetter {
		t.Error("lower is better for this score, and the metric does not say so")
	}
	if math.Abs(float64(m.ChangePct)+10) > 0.1 || m.Real == nil || !*m.Real {
		t.Errorf("change %.2f %%, real %v, want -10 %% and real", float64(m.ChangePct), m.Real)
	}
	if other := metrics(a, scored("render", "points", true, 90), Options{}); len(other) != 0 {
		t.Errorf("seconds were compared with points: %+v", other)
	}
}
