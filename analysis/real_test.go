package analysis_test

import (
	"math"
	"strings"
	"testing"

	"soakline/analysis"
	"soakline/analysis/say"
)

// asked gives the spans over which the recording's own column asked for work.
func asked(tr []float64, words []string) (spans [][2]float64) {
	for i, w := range words {
		if w == "idle" {
			continue
		}
		if i == 0 || words[i-1] != w {
			spans = append(spans, [2]float64{tr[i], tr[i]})
		}
		spans[len(spans)-1][1] = tr[i]
	}
	return spans
}

// share is how much of from..to the limiter spans call a kind.
func share(r analysis.Result, kind analysis.Kind, from, to float64) float64 {
	sum := 0.0
	for _, l := range r.Limiter {
		if l.Kind == kind {
			sum += math.Max(0, math.Min(float64(l.EndS), to)-math.Max(float64(l.StartS), from))
		}
	}
	return sum / (to - from)
}

func about(t *testing.T, what string, got analysis.Number, want, within float64) {
	t.Helper()
	if !(math.Abs(float64(got)-want) <= within) {
		t.Errorf("%s: %.4f, want %.4f within %.4g", what, float64(got), want, within)
	}
}

func inside(t *testing.T, what string, low, high analysis.Number, want float64) {
	t.Helper()
	if !(float64(low) <= want && want <= float64(high)) {
		t.Errorf("%s: %.4g is outside the interval %.4g to %.4g", what, want, float64(low), float64(high))
	}
}

// TestRealRecording holds the analysis against what was asked of a real accelerator card
// with a power limit of 700 W, without its reason bits.
func TestRealRecording(t *testing.T) {
	tr, words := accelerator(t)
	r := analysis.Analyze(tr, analysis.Options{IgnoreReasons: true})
	want := asked(tr.Time, words)
	if len(r.Load) != len(want) {
		t.Fatalf("%d load spans, want %d: %v", len(r.Load), len(want), r.Load)
	}
	for i, w := range want {
		about(t, "load start", r.Load[i].StartS, w[0], 0.5)
		about(t, "load end", r.Load[i].EndS, w[1], 0.5)
	}
	if s := share(r, analysis.PowerLong, want[0][0], want[0][1]); s < 0.95 {
		t.Errorf("power-long for %.1f %% of the full load, want 95 %%", 100*s)
	}
	about(t, "power limit", r.PowerLimit.LongW, 700, 7)
	if r.PowerStep.Found || !strings.Contains(r.PowerStep.Why, "without a burst") {
		t.Errorf("the recording has no burst, found %v, why %q", r.PowerStep.Found, r.PowerStep.Why)
	}
	if !r.Steady.Reached {
		t.Errorf("steady state not reached: %s", r.Steady.Why)
	}
	about(t, "steady temperature", r.Steady.TemperatureC, 70, 0.5)
	about(t, "steady power", r.Steady.PowerW, 698, 3)
	about(t, "steady since", r.Steady.SinceS, 203, 12)
	inside(t, "K/W by the rest before", r.ThermalPath.RthLowKPerW, r.ThermalPath.RthHighKPerW, (70.0-41.6)/(697.7-124.1))
	inside(t, "K/W by the rest after", r.ThermalPath.RthLowKPerW, r.ThermalPath.RthHighKPerW, (70.0-35.4)/(697.7-122.4))
	if len(r.ThermalHits) != 0 {
		t.Errorf("thermal hits in a recording that never was at a thermal limit: %v", r.ThermalHits)
	}
	text := say.Of(r).Text
	for _, part := range []string{"Resting at 12", "held at 698 W by the long-term power limit", "had settled at 70 °C"} {
		if !strings.Contains(text, part) {
			t.Errorf("the say-line lacks %q: %s", part, text)
		}
	}
}

// TestRealReasons compares inference with what the card itself reported, over the full
// load, where both speak.
func TestRealReasons(t *testing.T) {
	tr, words := accelerator(t)
	told := analysis.Analyze(tr, analysis.Options{})
	full := asked(tr.Time, words)[0]
	if s := share(told, analysis.PowerLong, full[0]+0.5, full[1]); s < 0.99 {
		t.Errorf("the reported reason makes up %.3f of the full load", s)
	}
	for _, l := range told.Limiter {
		if l.Kind == analysis.PowerLong && l.Source != "reported" {
			t.Errorf("span %v is %s although the card reports it", l.StartS, l.Source)
		}
	}
	inferred := analysis.Analyze(tr, analysis.Options{IgnoreReasons: true})
	for _, l := range inferred.Limiter {
		if l.Source != "inferred" {
			t.Errorf("span %v is %s although reasons are ignored", l.StartS, l.Source)
		}
	}
}

// TestSpansCover checks that the limiter spans cover the recording without gaps.
func TestSpansCover(t *testing.T) {
	tr, _ := accelerator(t)
	for _, ignore := range []bool{true, false} {
		r := analysis.Analyze(tr, analysis.Options{IgnoreReasons: ignore})
		at := tr.Time[0]
		for _, l := range r.Limiter {
			if math.Abs(float64(l.StartS)-at) > 1e-9 || l.EndS <= l.StartS {
				t.Fatalf("span %v to %v follows one that ends at %v", l.StartS, l.EndS, at)
			}
			at = float64(l.EndS)
		}
		about(t, "end of the last span", analysis.Number(at), tr.Time[len(tr.Time)-1], 1e-9)
	}
}
