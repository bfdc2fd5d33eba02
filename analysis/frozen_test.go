package analysis_test

import (
	"strings"
	"testing"
	"time"

	"soakline/analysis"
	"soakline/collector/source/rig"
	"soakline/collector/telemetry"
)

// A die sensor that repeats an old value for ever looks settled. It must not be called
// so: steady state is claimed from a sensor that is seen to be alive, or not at all.
func TestStoppedSensorIsNeverSteady(t *testing.T) {
	for _, at := range []float64{12, 25, 40, 60, 100} {
		tr := fanTrace(t, 260*time.Second)
		die := telemetry.IndexOf(tr.Channels, telemetry.RoleDie)
		stopped := 0.0
		for i, now := range tr.Time {
			if now < at {
				stopped = tr.Values[die][i]
				continue
			}
			tr.Values[die][i], tr.States[die][i] = stopped, telemetry.Fresh
		}
		s := analysis.Analyze(tr, analysis.Options{}).Steady
		if s.Reached {
			t.Errorf("stopped at %.0f s: called steady at %v degC", at, s.TemperatureC)
		} else if at > 12 && !strings.Contains(s.Why, "may have stopped") {
			t.Errorf("stopped at %.0f s: not steady because %q, which does not name the sensor", at, s.Why)
		}
	}
}

// The same machine with a sensor that works settles.
func TestLiveSensorIsSteady(t *testing.T) {
	if s := analysis.Analyze(fanTrace(t, 300*time.Second), analysis.Options{}).Steady; !s.Reached {
		t.Errorf("the fan cooler settles in 144 s and is not called steady: %s", s.Why)
	}
}

func fanTrace(t *testing.T, length time.Duration) *telemetry.Trace {
	t.Helper()
	src, err := rig.New(rig.Default())
	if err != nil {
		t.Fatal(err)
	}
	tr, _ := src.Trace(100*time.Millisecond, length)
	if tr.Channels, err = telemetry.Resolve(tr.Channels, nil); err != nil {
		t.Fatal(err)
	}
	return tr
}
