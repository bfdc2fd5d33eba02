package rig

import (
	"math"
	"testing"

	"soakline/testdata/checkvalues"
)

// The length of the burst against limiter_step.csv: t* = tau ln((P2-P0)/(P2-P1)) and a
// separate 1 ms simulation. The interface is that of the Intel SDM vol. 3B, Platform
// Specific Power Support; the exponential average is the usual description.
func TestBurstLength(t *testing.T) {
	const dt = 0.001
	for _, row := range checkvalues.Read(t, "limiter_step.csv") {
		p0, p1, p2 := row.Num("p0_w"), row.Num("p1_w"), row.Num("p2_w")
		l := newLimiter(Limits{LongW: p1, ShortW: p2, WindowS: row.Num("tau_s"), ApproachS: 0.05}, dt)
		l.average = p0
		burst, excess := math.NaN(), 0.0
		for i := range 200000 {
			p := l.allowed()
			if p < (p1+p2)/2 && math.IsNaN(burst) {
				burst = float64(i) * dt
			}
			excess += dt * (p - p1)
			l.drawn(p)
			if p > p2 || l.average > p1+1e-9 {
				t.Fatalf("%v: at %.3f s it allows %g W with an average of %g W", row, float64(i)*dt, p, l.average)
			}
		}
		const tick = 0.1
		if want := row.Num("t_burst_s"); math.Abs(burst-want) > tick || math.Abs(burst-row.Num("t_sim_s")) > tick {
			t.Errorf("%g/%g/%g W: burst of %.3f s, want %.3f", p0, p1, p2, burst, want)
		}
		// The energy above the plateau is the burst's, so that the soft approach moves
		// its end by less than 10 ms.
		near(t, "energy of the burst", excess, (p2-p1)*row.Num("t_burst_s"), 0.01/row.Num("t_burst_s")+1e-3)
		near(t, "plateau", l.allowed(), p1, 1e-6)
	}
}

// On a path that would go far above the limit the governor holds the die at it.
func TestGovernorHoldsTheLimit(t *testing.T) {
	g := newGovernor(Limits{ShortW: 64, ThermalC: 100})
	l, _ := newLadder([]float64{1.2, 0.12, 0.16, 0.85}, []float64{0.3, 6, 40, 200})
	for k := range l.t {
		l.t[k] = 30
	}
	for i := range 60000 {
		l.step(0.001, min(64, g.allowed(l.t[0])), 22)
		g.observe(0.001, l.t[0])
		if l.t[0] > 101 {
			t.Fatalf("%.3f s: %.2f degC", float64(i)/1000, l.t[0])
		}
		if i > 5000 && math.Abs(l.t[0]-100) > 0.2 {
			t.Fatalf("%.3f s: %.2f degC, want the limit", float64(i)/1000, l.t[0])
		}
	}
}
