package say_test

import (
	"strings"
	"testing"

	"soakline/analysis"
	"soakline/analysis/say"
	"soakline/collector/telemetry"
)

// example is the state of which the design speaks.
func example() analysis.Result {
	r := analysis.Analyze(&telemetry.Trace{}, analysis.Options{LimitC: 90})
	r.Load = []analysis.Span{{StartS: 12, EndS: 200}}
	r.Limiter = []analysis.LimiterSpan{{StartS: 0, EndS: 12, Kind: analysis.Idle, Source: "inferred", Confidence: 0.99},
		{StartS: 12, EndS: 18, Kind: analysis.PowerShort, Source: "inferred", Confidence: 0.99},
		{StartS: 18, EndS: 200, Kind: analysis.PowerLong, Source: "inferred", Confidence: 0.99}}
	r.PowerLimit = analysis.PowerLimit{LongW: 28.02, LongLowW: 27.9, LongHighW: 28.1, StatedLongW: 28, Basis: "the level to which power fell after a burst"}
	r.PowerStep.Found, r.PowerStep.TimeS, r.PowerStep.ShortW = true, 18, 64
	r.Now = analysis.Now{PowerW: 28.3, DieC: 57, ClockMHz: 3100, BurstLeftS: analysis.Unknown()}
	r.Steady = analysis.Steady{TemperatureC: 57, PowerW: 28, ForecastC: 61, ForecastLowC: 60, ForecastHighC: 62, EtaS: 170, EtaLowS: 120, EtaHighS: 240}
	r.Headroom = analysis.Headroom{LimitC: 90, LimitSource: "given", MarginK: 31, PowerW: 43, PowerLowW: 40, PowerHighW: 45, NextStepW: 35, TestedToW: 64}
	r.ThermalPath.RthKPerW, r.ThermalPath.RthLowKPerW, r.ThermalPath.RthHighKPerW = 1.4, 1.3, 1.5
	r.ThermalPath.ReferenceC, r.ThermalPath.ReferenceSource = 22, "ambient temperature"
	return r
}

// TestExample is the design's own example.
func TestExample(t *testing.T) {
	want := "Held at 28.0 W by the long-term power limit since 0:18. 29 K to your 90 °C limit: this cooler would carry about 43 W (40 to 45). Still heating: 61 °C in about 3 min."
	r := example()
	r.Headroom.MarginK = 29
	if got := say.Of(r).Text; got != want {
		t.Errorf("\n got %s\nwant %s", got, want)
	}
}

// TestStable: changes below what is shown leave the line as it is.
func TestStable(t *testing.T) {
	a := say.Of(example()).Text
	r := example()
	r.Now.PowerW, r.Now.DieC, r.PowerLimit.LongW = 27.7, 57.3, 28.04
	r.Steady.ForecastC, r.Steady.EtaS = 61.2, 160
	r.Headroom.PowerW, r.Headroom.MarginK = 43.2, 30.8
	if b := say.Of(r).Text; a != b {
		t.Errorf("the line moved:\n%s\n%s", a, b)
	}
}

// TestSentences: each state has its words, and every part its evidence.
func TestSentences(t *testing.T) {
	second := analysis.PowerLong
	for name, c := range map[string]struct {
		change func(r *analysis.Result)
		want   string
	}{
		"nothing yet": {func(r *analysis.Result) { *r = analysis.Analyze(&telemetry.Trace{}, analysis.Options{}) }, "Waiting for the first readings."},
		"simulated":   {func(r *analysis.Result) { r.Simulated = true }, "SIMULATED."},
		"at rest":     {func(r *analysis.Result) { r.Load, r.Limiter, r.Now.PowerW, r.Now.DieC = nil, r.Limiter[:1], 5, 31 }, "Resting at 5 W, 31 °C. Start the load when ready."},
		"unsure": {func(r *analysis.Result) {
			r.Limiter[2].Confidence, r.Limiter[2].Kind, r.Limiter[2].Second = 0.6, analysis.Thermal, &second
		}, "probably by heat, or by the long-term power limit"},
		"rising": {func(r *analysis.Result) { r.Load, r.Limiter, r.Now.PowerW, r.Now.RestW = nil, r.Limiter[:1], 38, 5 }, "Power is rising: 38 W."},
		"changing": {func(r *analysis.Result) {
			r.UntilS, r.Limiter[2].Kind, r.Limiter[2].StartS = 20, analysis.Other, 18
		}, "Power has just changed to 28 W."},
		"alarm":        {func(r *analysis.Result) { r.Now.DieC = 97 }, "Now 97 °C: 7 K over your 90 °C limit."},
		"over limit":   {func(r *analysis.Result) { r.Headroom.MarginK = -4 }, "4 K over your 90 °C limit"},
		"at limit":     {func(r *analysis.Result) { r.Headroom.MarginK = -0.2 }, "At your 90 °C limit"},
		"assumed":      {func(r *analysis.Result) { r.Headroom.LimitSource = "assumed" }, "to an assumed 90 °C limit"},
		"wide":         {func(r *analysis.Result) { r.Headroom.PowerHighW = 300 }, "Headroom not known yet."},
		"unknown room": {func(r *analysis.Result) { r.Headroom.PowerW, r.Headroom.Why = analysis.Unknown(), "no load was seen" }, "Headroom not known yet."},
		"settled":      {func(r *analysis.Result) { r.Steady.Reached, r.Steady.SinceS = true, 100 }, "Settled at 57 °C."},
		"vague end":    {func(r *analysis.Result) { r.Steady.ForecastLowC, r.Steady.ForecastHighC = 55, 70 }, "54 to 70 °C"},
		"burst": {func(r *analysis.Result) {
			r.Limiter = r.Limiter[:2]
			r.UntilS, r.Now.BurstLeftS, r.Now.PowerW = 16, 5.4, 64
		}, "The burst lasts until about 0:21."},
		"no sensors": {func(r *analysis.Result) { r.Now.PowerW, r.Now.DieC = analysis.Unknown(), analysis.Unknown() }, "Neither power nor die temperature is known."},
	} {
		t.Run(name, func(t *testing.T) {
			r := example()
			c.change(&r)
			l := say.Of(r)
			if !strings.Contains(l.Text, c.want) {
				t.Errorf("got %q, want %q in it", l.Text, c.want)
			}
			for _, p := range l.Parts {
				if p.Evidence == "" || strings.Contains(p.Text+p.Evidence, "NaN") {
					t.Errorf("part %q has the evidence %q", p.Text, p.Evidence)
				}
			}
		})
	}
}

// TestCautions stand beside the headroom, which could lead someone to raise a limit.
func TestCautions(t *testing.T) {
	for _, p := range say.Of(example()).Parts {
		if strings.Contains(p.Text, "would carry") {
			for _, w := range []string{"maker's limits", "small steps", "stay with the machine", "Next try at most 35 W"} {
				if !strings.Contains(p.Evidence, w) {
					t.Errorf("the evidence lacks %q: %s", w, p.Evidence)
				}
			}
			return
		}
	}
	t.Error("no headroom sentence")
}
