package analysis_test

import (
	"testing"
	"time"

	"soakline/analysis"
	"soakline/collector/telemetry"
)

// TestFanStops: a fan that stands still under load is told with its time; one that turns,
// that rests with the machine, or whose sensor is gone is not.
func TestFanStops(t *testing.T) {
	for name, c := range map[string]struct {
		length time.Duration
		change func(tr *telemetry.Trace, fan, i int)
		stops  float64 // s; 0 never
	}{
		"turns": {200 * time.Second, func(*telemetry.Trace, int, int) {}, 0},
		"stops": {200 * time.Second, func(tr *telemetry.Trace, fan, i int) {
			if tr.Time[i] >= 150 {
				tr.Values[fan][i] = 0
			}
		}, 150},
		"rests": {340 * time.Second, func(tr *telemetry.Trace, fan, i int) {
			if tr.Time[i] >= 313 {
				tr.Values[fan][i] = 0
			}
		}, 0},
		"gone": {200 * time.Second, func(tr *telemetry.Trace, fan, i int) {
			if tr.Time[i] >= 150 {
				gap(tr, fan, i)
			}
		}, 0},
	} {
		t.Run(name, func(t *testing.T) {
			_, tr, _ := rigTrace(t, "fan-cooler", c.length, true)
			fan := tr.Index(telemetry.RoleFan)
			for i := range tr.Time {
				c.change(tr, fan, i)
			}
			since := analysis.Analyze(tr, analysis.Options{}).Now.FanStoppedS
			if c.stops == 0 && since.Known() {
				t.Errorf("stopped at %.1f s", float64(since))
			}
			if c.stops > 0 {
				about(t, "stop", since, c.stops, 1)
			}
		})
	}
}
