package analysis_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"soakline/analysis"
	"soakline/collector/telemetry"
)

// TestDirt: sensors fail, lie and vanish; the answers stay near those of the clean
// trace, and nothing panics.
func TestDirt(t *testing.T) {
	_, clean, _ := rigTrace(t, "plate-again", 330*time.Second, false)
	want := analysis.Analyze(clean, analysis.Options{LimitC: 90})
	for name, spoil := range map[string]func(tr *telemetry.Trace, r *rand.Rand){
		"one reading in fifty missing": func(tr *telemetry.Trace, r *rand.Rand) {
			each(tr, func(c, i int) {
				if r.IntN(50) == 0 {
					gap(tr, c, i)
				}
			})
		},
		"single impossible temperatures": func(tr *telemetry.Trace, r *rand.Rand) {
			c := tr.Index(telemetry.RoleDie)
			for i := range tr.Time {
				if r.IntN(100) == 0 {
					tr.Values[c][i] = []float64{0, 127, -128, 255}[r.IntN(4)]
				}
			}
		},
		"the energy counter restarts": func(tr *telemetry.Trace, r *rand.Rand) {
			c := tr.Index(telemetry.RoleEnergy)
			base := tr.Values[c][1500]
			for i := 1500; i < len(tr.Time); i++ {
				tr.Values[c][i] -= base
			}
		},
		"the die is gone for ten seconds": func(tr *telemetry.Trace, r *rand.Rand) {
			for i := 1000; i < 1100; i++ {
				gap(tr, tr.Index(telemetry.RoleDie), i)
			}
		},
		"temperatures once a second": func(tr *telemetry.Trace, r *rand.Rand) {
			c := tr.Index(telemetry.RoleDie)
			for i := range tr.Time {
				tr.Values[c][i] = tr.Values[c][i/10*10]
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			_, tr, _ := rigTrace(t, "plate-again", 330*time.Second, false)
			spoil(tr, rand.New(rand.NewPCG(3, 4)))
			r := analysis.Analyze(tr, analysis.Options{LimitC: 90})
			if len(r.Load) != 1 || !r.PowerStep.Found {
				t.Fatalf("load %v, step %v %s", r.Load, r.PowerStep.Found, r.PowerStep.Why)
			}
			about(t, "step", r.PowerStep.TimeS, float64(want.PowerStep.TimeS), 0.2)
			about(t, "long-term limit", r.PowerStep.LongW, 28, 0.28)
			about(t, "time constant", r.PowerStep.TimeConstantS, 16, 1.6)
			about(t, "forecast", r.Steady.ForecastC, float64(want.Steady.ForecastC), 2)
			if s := share(r, analysis.PowerLong, 21, 311); s < 0.97 {
				t.Errorf("power-long for %.1f %% of the plateau", 100*s)
			}
		})
	}
}

func each(tr *telemetry.Trace, do func(c, i int)) {
	for c := range tr.Values {
		for i := range tr.Time {
			do(c, i)
		}
	}
}

func gap(tr *telemetry.Trace, c, i int) {
	tr.Values[c][i] = math.NaN()
	if tr.States[c] != nil {
		tr.States[c][i] = telemetry.GapIO
	}
}

// TestNothing: traces without what is needed say so and do not panic.
func TestNothing(t *testing.T) {
	for _, drop := range telemetry.Roles() {
		_, tr, _ := rigTrace(t, "fan-cooler", 60*time.Second, true)
		for c := range tr.Channels {
			if tr.Channels[c].Role == drop || drop == telemetry.RolePower && tr.Channels[c].Role == telemetry.RoleEnergy {
				tr.Channels[c].Role = telemetry.RoleNone
			}
		}
		r := analysis.Analyze(tr, analysis.Options{})
		switch drop {
		case telemetry.RolePower:
			if r.PowerStep.Found || r.ThermalPath.RthKPerW.Known() {
				t.Errorf("answers about power without power: %+v", r.PowerStep)
			}
		case telemetry.RoleDie:
			if r.Steady.Why == "" || r.ThermalPath.Why == "" || r.Headroom.Why == "" {
				t.Errorf("no die, no reason: %q %q %q", r.Steady.Why, r.ThermalPath.Why, r.Headroom.Why)
			}
		case telemetry.RoleAmbient:
			if len(r.Warnings) == 0 {
				t.Error("no warning that the reference is not measured")
			}
		}
	}
}

// TestRestOnly: a machine at rest has no load, no step, and is idle throughout.
func TestRestOnly(t *testing.T) {
	_, tr, _ := rigTrace(t, "fan-cooler", 11*time.Second, true)
	r := analysis.Analyze(tr, analysis.Options{})
	if len(r.Load) != 0 || r.PowerStep.Found || share(r, analysis.Idle, 0, 11) < 0.999 {
		t.Errorf("load %v, step %v, limiter %v", r.Load, r.PowerStep.Found, r.Limiter)
	}
}
