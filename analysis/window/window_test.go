package window

import (
	"fmt"
	"math"
	"testing"

	"soakline/testdata/checkvalues"
)

// TestBurst holds burst and time constant against limiter_step.csv: the closed form
// t = tau ln((P2-P0)/(P2-P1)), confirmed there by a simulation at 1 ms (t_sim_s).
func TestBurst(t *testing.T) {
	for _, row := range checkvalues.Read(t, "limiter_step.csv") {
		b := Budget{Rest: row.Num("p0_w"), Long: row.Num("p1_w"), Short: row.Num("p2_w"), Tau: row.Num("tau_s")}
		name := fmt.Sprintf("%g/%g/%g W", b.Rest, b.Long, b.Short)
		if got, want := b.Burst(), row.Num("t_burst_s"); math.Abs(got-want) > 1e-6 {
			t.Errorf("%s: burst %.6f s, want %.6f", name, got, want)
		}
		if got := b.Burst(); math.Abs(got-row.Num("t_sim_s")) > 1.5e-3 {
			t.Errorf("%s: burst %.4f s, the simulation says %.4f", name, got, row.Num("t_sim_s"))
		}
		if got := b.Needed(row.Num("t_burst_s")); math.Abs(got-b.Tau) > 1e-6*b.Tau {
			t.Errorf("%s: time constant %.6f s, want %.6f", name, got, b.Tau)
		}
	}
}

// TestPeak steps a path through burst and plateau by Euler's method at 1 ms and takes the
// highest temperature.
func TestPeak(t *testing.T) {
	r, tau := []float64{0.3, 0.4, 0.6}, []float64{0.5, 12, 150}
	for _, c := range []struct {
		b   Budget
		job float64
	}{{Budget{5, 28, 64, 16}, 45}, {Budget{5, 28, 64, 16}, 8}, {Budget{5, 60, 64, 16}, 2}} {
		x := []float64{5, 5, 5}
		top := 0.0
		for s := 0.0; s < c.job+1200; s += 0.001 {
			p := c.b.Short
			if s > c.job {
				p = c.b.Long
			}
			rise := 0.0
			for k := range r {
				x[k] += 0.001 / tau[k] * (p - x[k])
				rise += r[k] * x[k]
			}
			top = math.Max(top, rise)
		}
		if got := c.b.Peak(r, tau, c.job); math.Abs(got-top) > 0.002*top {
			t.Errorf("job of %g s: %.3f K, stepped %.3f K", c.job, got, top)
		}
	}
}

func TestNoBurst(t *testing.T) {
	b := Budget{5, 64, 64, 16}
	if !math.IsInf(b.Burst(), 1) || b.Needed(45) != 0 {
		t.Errorf("a burst at the long-term limit ends after %g s, needs %g s", b.Burst(), b.Needed(45))
	}
}
