package thermal

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// The published pair base, near_worse (interface x 1.6) and far_worse (far side x 1.4):
// five stages, where four are fitted; unlike powers, rooms and offsets, whole degrees.
func TestCompareFindsWhatChanged(t *testing.T) {
	cauer, _ := published(t)
	base, _ := cauer["base"].Foster()
	part := func(c Cauer) (near, far float64) { return c.R[0] + c.R[1], c.R[2] + c.R[3] + c.R[4] }
	n0, f0 := part(cauer["base"])
	for _, name := range []string{"base", "near_worse", "far_worse"} {
		g, _ := cauer[name].Foster()
		nb, fb := part(cauer[name])
		for seed := range uint64(3) {
			a := simulate(base, burst(9000, 0.1, 5, 64, 28), 0.1, 22, 0.3, 1, 2*seed+1)
			b := simulate(g, burst(8000, 0.1, 4, 50, 35), 0.1, 25.3, 0.3, 1, 2*seed+2)
			for i := range b.Temp {
				b.Temp[i] += 1
				b.Ref[i] += 0.6
			}
			start := time.Now()
			c, err := Compare(a, b)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%s: near %.3f (true %.3f) se %.3f, far %.3f (true %.3f) se %.3f, parts at %.2f s, rms %.2f K, %v", name, math.Exp(c.LnNear), nb/n0, c.NearSE,
				math.Exp(c.LnFar), fb/f0, c.FarSE, c.SeparationS, c.RMS, time.Since(start))
			if math.Abs(c.LnNear-math.Log(nb/n0)) > 0.1 || math.Abs(c.LnFar-math.Log(fb/f0)) > 0.06 {
				t.Error(fmt.Sprint(name, ": too far off"))
			}
		}
	}
}

func TestFitPath(t *testing.T) {
	cauer, _ := published(t)
	f, _ := cauer["base"].Foster()
	p, err := FitPath(simulate(f, burst(16000, 0.1, 5, 64, 28), 0.1, 22, 0.3, 1, 4))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("total %.3f near %.3f far %.3f se %.3f %.3f %.3f rms %.2f", p.Total(), p.Near(), p.Far(), p.TotalSE, p.NearSE, p.FarSE, p.RMS)
	near(t, "total", p.Total(), f.Total(), 0.04)
	near(t, "near", p.Near(), 0.25, 0.2)
	if p.TotalSE > 0.05 || p.TotalSE < 1e-4 {
		t.Errorf("standard error of ln R %g", p.TotalSE)
	}
}

func TestCompareNeedsData(t *testing.T) {
	if _, err := Compare(Series{}, Series{}); err == nil {
		t.Error("nothing must be refused")
	}
	flat := Series{}
	for i := range 1000 {
		flat.At, flat.Power, flat.Temp = append(flat.At, float64(i)/10), append(flat.Power, 10), append(flat.Temp, math.NaN())
	}
	if _, err := FitPath(flat); err == nil {
		t.Error("no temperature must be refused")
	}
}

// A sensor renewed once a second shows values of half a second ago: reduced, a ramp of
// 1 K/s must come out in its place.
func TestReduceTakesTheAgeOut(t *testing.T) {
	for _, hold := range []int{1, 10} {
		var s Series
		for i := range 1200 {
			at := float64(i) / 10
			p := 5.0
			if at > 20 {
				p = 50
			}
			shown := float64(i/hold*hold) / 10
			s.At, s.Power, s.Temp, s.Ref = append(s.At, at), append(s.Power, p), append(s.Temp, shown), append(s.Ref, 0)
		}
		r, err := reduce(s)
		if err != nil {
			t.Fatal(err)
		}
		if want := float64(hold) / 10; hold > 1 && math.Abs(r.hold-want) > 1e-9 || hold == 1 && r.hold != 0 {
			t.Errorf("hold of %d samples: %g s", hold, r.hold)
		}
		if math.Abs(r.rest-20) > 0.2 || math.Abs(r.loaded-100) > 0.5 {
			t.Errorf("rest %g s, load %g s", r.rest, r.loaded)
		}
		off, n := 0.0, 0.0
		for _, w := range r.rows {
			if w.at > 30 && w.at < 100 {
				off, n = off+w.y-(w.at-w.dt/2), n+1
			}
		}
		if math.Abs(off/n) > 0.11 {
			t.Errorf("hold of %d samples: off by %g K on a ramp of 1 K/s", hold, off/n)
		}
		if len(r.rows) > 400 {
			t.Errorf("%d rows of 1200 samples", len(r.rows))
		}
	}
}
