package analysis_test

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"testing"
	"time"

	"soakline/analysis"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

func encoded(t *testing.T, r analysis.Result) []byte {
	t.Helper()
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestPieces: asking after every second, and every 7.3 s, changes nothing at the end.
func TestPieces(t *testing.T) {
	_, tr, _ := rigTrace(t, "fan-cooler", 120*time.Second, false)
	whole := encoded(t, analysis.Analyze(tr, analysis.Options{}))
	for _, every := range []int{10, 73} {
		on := analysis.NewOnline(tr.Channels, analysis.Options{})
		v, s := make([]float64, len(tr.Channels)), make([]telemetry.State, len(tr.Channels))
		for i, at := range tr.Time {
			for c := range v {
				v[c], s[c] = tr.Values[c][i], tr.StateAt(c, i)
			}
			on.Push(at, v, s)
			if i%every == 0 {
				on.Result()
			}
		}
		if got := encoded(t, on.Result()); !bytes.Equal(got, whole) {
			t.Errorf("asked every %d samples the end is\n%s\nand at once it is\n%s", every, got, whole)
		}
	}
}

// TestInputUnchanged: the analysis never writes to its input.
func TestInputUnchanged(t *testing.T) {
	_, tr, _ := rigTrace(t, "plate-again", 60*time.Second, true)
	var before [][]float64
	for _, c := range tr.Values {
		before = append(before, slices.Clone(c))
	}
	analysis.Analyze(tr, analysis.Options{})
	for c := range before {
		for i := range before[c] {
			if a, b := before[c][i], tr.Values[c][i]; a != b && !(math.IsNaN(a) && math.IsNaN(b)) {
				t.Fatalf("channel %d changed at %d", c, i)
			}
		}
	}
}

// TestTimeShift: a later start moves the times and nothing else.
func TestTimeShift(t *testing.T) {
	_, tr, _ := rigTrace(t, "fan-cooler", 200*time.Second, false)
	a := analysis.Analyze(tr, analysis.Options{})
	for i := range tr.Time {
		tr.Time[i] += 5000
	}
	b := analysis.Analyze(tr, analysis.Options{})
	about(t, "step", b.PowerStep.TimeS, float64(a.PowerStep.TimeS)+5000, 1e-6)
	about(t, "load", b.Load[0].StartS, float64(a.Load[0].StartS)+5000, 1e-6)
	about(t, "time constant", b.PowerStep.TimeConstantS, float64(a.PowerStep.TimeConstantS), 0.02)
	about(t, "K/W", b.ThermalPath.RthKPerW, float64(a.ThermalPath.RthKPerW), 1e-6)
	about(t, "forecast", b.Steady.ForecastC, float64(a.Steady.ForecastC), 1e-6)
}

// TestWattScale: twice the power at the same temperatures is half the resistance, twice
// every limit and the same times.
func TestWattScale(t *testing.T) {
	_, tr, _ := rigTrace(t, "fan-cooler", 200*time.Second, false)
	a := analysis.Analyze(tr, analysis.Options{LimitC: 90})
	for c, ch := range tr.Channels {
		if ch.Quantity == quantity.Power || ch.Quantity == quantity.Energy {
			for i := range tr.Values[c] {
				tr.Values[c][i] *= 2
			}
		}
	}
	b := analysis.Analyze(tr, analysis.Options{LimitC: 90})
	about(t, "long-term limit", b.PowerStep.LongW, 2*float64(a.PowerStep.LongW), 1e-6)
	about(t, "step", b.PowerStep.TimeS, float64(a.PowerStep.TimeS), 1e-6)
	about(t, "time constant", b.PowerStep.TimeConstantS, float64(a.PowerStep.TimeConstantS), 0.02)
	about(t, "K/W", b.ThermalPath.RthKPerW, float64(a.ThermalPath.RthKPerW)/2, 1e-4)
	about(t, "headroom", b.Headroom.PowerW, 2*float64(a.Headroom.PowerW), 1e-2)
}
