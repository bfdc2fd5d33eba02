package analysis_test

import (
	"testing"
	"time"

	"soakline/analysis"
	"soakline/collector/source/rig"
	"soakline/collector/telemetry"
)

// rigTrace is the simulated machine in one of its setups, with its truth. The limits
// that the rig states are taken away unless stated is true, so that they are found.
func rigTrace(t testing.TB, setup string, length time.Duration, stated bool) (*rig.Source, *telemetry.Trace, []rig.State) {
	t.Helper()
	src, err := rig.New(rig.Default())
	if err != nil {
		t.Fatal(err)
	}
	if err := src.Select(setup); err != nil {
		t.Fatal(err)
	}
	tr, truth := src.Trace(100*time.Millisecond, length)
	if tr.Channels, err = telemetry.Resolve(tr.Channels, nil); err != nil {
		t.Fatal(err)
	}
	for i := range tr.Channels {
		switch tr.Channels[i].Role {
		case telemetry.RoleLongLimit, telemetry.RoleShortLimit, telemetry.RoleLongWindow:
			if !stated {
				tr.Channels[i].Role = telemetry.RoleNone
			}
		}
	}
	return src, tr, truth
}

// limiterRight is the share of samples whose limiter is the true one.
func limiterRight(r analysis.Result, tr *telemetry.Trace, truth []rig.State) float64 {
	right, k := 0.0, 0
	for i, at := range tr.Time {
		for k < len(r.Limiter)-1 && float64(r.Limiter[k].EndS) < at-1e-9 {
			k++
		}
		if string(r.Limiter[k].Kind) == string(truth[i].HeldBy) {
			right++
		}
	}
	return right / float64(len(tr.Time))
}

// TestRig takes each setup through rest, burst, plateau and cooling.
func TestRig(t *testing.T) {
	for _, c := range []struct {
		setup string
		step  float64 // s from the start
		short bool    // the short-term limit was seen to bind
	}{
		{"fan-cooler", 12 + 7.91, true},
		{"plate-first", 22.4, false}, // heat cuts the burst, so that the budget lasts longer
		{"plate-again", 12 + 7.91, true},
	} {
		for _, stated := range []bool{true, false} {
			src, tr, truth := rigTrace(t, c.setup, 360*time.Second, stated)
			w := src.Truth()
			r := analysis.Analyze(tr, analysis.Options{LimitC: 90})
			t.Run(c.setup, func(t *testing.T) {
				if len(r.Load) != 1 {
					t.Fatalf("load spans %v, want one", r.Load)
				}
				about(t, "load start", r.Load[0].StartS, 12, 0.5)
				about(t, "load end", r.Load[0].EndS, 312, 0.5)
				p := r.PowerStep
				if !p.Found || *p.Cause != "power budget" {
					t.Fatalf("no step by the power budget: %s", p.Why)
				}
				about(t, "step", p.TimeS, c.step, 0.3)
				about(t, "long-term limit", p.LongW, w.Limits.LongW, 0.01*w.Limits.LongW)
				about(t, "time constant", p.TimeConstantS, w.Limits.WindowS, 0.1*w.Limits.WindowS)
				inside(t, "time constant", p.TimeConstantLowS, p.TimeConstantHighS, w.Limits.WindowS)
				if c.short {
					about(t, "short-term limit", p.ShortW, w.Limits.ShortW, 0.01*w.Limits.ShortW)
				}
				if p.ShortIsALimit == nil || *p.ShortIsALimit != c.short {
					t.Errorf("short is a limit: %v, want %v", p.ShortIsALimit, c.short)
				}
				if s := limiterRight(r, tr, truth); s < 0.97 {
					t.Errorf("limiter right in %.2f %% of the samples, want 97 %%", 100*s)
				}
				inside(t, "forecast", r.Steady.ForecastLowC, r.Steady.ForecastHighC, w.SteadyC)
				about(t, "forecast", r.Steady.ForecastC, w.SteadyC, 2)
				about(t, "K/W", r.ThermalPath.RthKPerW, w.RthKPerW, 0.05*w.RthKPerW)
				inside(t, "headroom", r.Headroom.PowerLowW, r.Headroom.PowerHighW, src.PowerAt(90))
			})
		}
	}
}
