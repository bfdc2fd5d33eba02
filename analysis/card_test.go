package analysis_test

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"soakline/analysis"
	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
)

// secondCard is a recording of a real accelerator card by collector/source/nvml.
func secondCard(t *testing.T) *telemetry.Trace {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "testdata", "traces", "gpu-two-loads.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	tr, err := tracefile.Read(f, tracefile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// The card's power, summed over time, is what its energy counter says: two sensors of
// the card that know nothing of each other in soakline.
func TestCardPowerAgreesWithItsEnergy(t *testing.T) {
	tr := secondCard(t)
	power, energy := tr.Values[tr.Index(telemetry.RolePower)], tr.Values[tr.Index(telemetry.RoleEnergy)]
	joules, last := 0.0, len(tr.Time)-1
	for i := range last {
		joules += power[i] * (tr.Time[i+1] - tr.Time[i])
	}
	counted := energy[last] - energy[0]
	t.Logf("%.0f J by power, %.0f J counted, %+.2f %%", joules, counted, 100*(joules/counted-1))
	if math.Abs(joules/counted-1) > 0.01 {
		t.Errorf("power over time makes %.0f J, the counter %.0f J", joules, counted)
	}
}

// What the analysis infers without the card's reasons is what the card itself reports, on
// at least 95 of 100 samples at which it was fully loaded. For 20 s it worked in turns of
// 20 ms, which the sensors cannot resolve: the card reports its power limit for each turn,
// while its power is 190 W below that limit; there the inference must not name a
// limit of power or heat.
func TestCardLimiterInferredAndReported(t *testing.T) {
	tr := secondCard(t)
	inferred := analysis.Analyze(tr, analysis.Options{IgnoreReasons: true})
	reported := analysis.Analyze(tr, analysis.Options{})
	busy := tr.Values[tr.Index(telemetry.RoleLoad)]
	same, full, wrong, turns := 0, 0, 0, 0
	for i, at := range tr.Time {
		a, b := kindAt(inferred, at), kindAt(reported, at)
		switch {
		case !within(inferred.Load, at):
		case busy[i] >= 90:
			full++
			if a == b {
				same++
			}
		case at > 118 && at < 136:
			turns++
			if a != analysis.Other && a != analysis.Clock {
				wrong++
			}
		}
	}
	t.Logf("%d of %d fully loaded samples agree, %.1f %%; in turns %d of %d name a limit", same, full, 100*float64(same)/float64(full), wrong, turns)
	if float64(same) < 0.95*float64(full) || full < 900 {
		t.Errorf("%d of %d fully loaded samples agree", same, full)
	}
	if wrong > turns/20 || turns < 150 {
		t.Errorf("in turns of 20 ms %d of %d samples name a limit", wrong, turns)
	}
}

func within(spans []analysis.Span, at float64) bool {
	for _, s := range spans {
		if float64(s.StartS) <= at && at < float64(s.EndS) {
			return true
		}
	}
	return false
}

func kindAt(r analysis.Result, at float64) analysis.Kind {
	for _, s := range r.Limiter {
		if float64(s.StartS) <= at && at < float64(s.EndS) {
			return s.Kind
		}
	}
	return ""
}
