package steady

import (
	"math"
	"testing"

	"soakline/analysis/path"
	"soakline/analysis/series"
)

// soak is a load of 30 W on one stage of tau seconds, read in whole degrees renewed once
// a second, every 0.1 s. The first 20 s are rest.
func soak(tau, seconds float64) []series.Sample {
	out := make([]series.Sample, int(10*seconds))
	rise, shown := 5.0, math.NaN()
	for i := range out {
		p := 30.0
		if i < 200 {
			p = 5
		}
		rise += (p - rise) * -math.Expm1(-0.1/tau)
		if i%10 == 0 {
			shown = math.Round(22 + rise)
		}
		out[i] = series.Sample{At: float64(i+1) / 10, Dt: 0.1, Power: p, Die: shown, DieMax: shown, Ambient: 22, Clock: math.NaN(), Load: math.NaN()}
	}
	return out
}

func judge(t *testing.T, s []series.Sample) State {
	t.Helper()
	f, why := path.Run(s, nil, path.Defaults())
	if why != "" {
		t.Fatal(why)
	}
	return Judge(s, 200, len(s), 200, math.NaN(), &f, 22, Defaults())
}

// TestSettled: not at a third of the way, however flat a whole degree looks; yes after
// eight time constants, and then since when it truly was within a kelvin.
func TestSettled(t *testing.T) {
	for _, tau := range []float64{20, 60, 180} {
		if st := judge(t, soak(tau, 20+1.2*tau)); st.Reached {
			t.Errorf("tau %g: settled after 1.2 tau, when %.1f K were still to come", tau, 25*math.Exp(-1.2))
		}
		st := judge(t, soak(tau, 20+8*tau))
		if !st.Reached {
			t.Errorf("tau %g: not settled after 8 tau: %s", tau, st.Why)
			continue
		}
		within := 20 + tau*math.Log(25)
		if math.Abs(st.Since-within) > 0.5*tau {
			t.Errorf("tau %g: settled since %.0f s, within 1 K since %.0f s", tau, st.Since, within)
		}
		if math.Abs(st.Die-52) > 0.6 || st.Low > 52 || st.High < 52 {
			t.Errorf("tau %g: settled at %.2f (%.2f to %.2f), want 52", tau, st.Die, st.Low, st.High)
		}
	}
}

// TestForecast narrows as evidence comes and holds the truth.
func TestForecast(t *testing.T) {
	last := math.Inf(1)
	for _, n := range []float64{0.7, 1.5, 3, 6} {
		st := judge(t, soak(120, 20+120*n))
		if st.Low > 52 || st.High < 52 {
			t.Errorf("after %g tau: %.1f to %.1f leaves 52 out", n, st.Low, st.High)
		}
		if w := st.High - st.Low; w > last*1.2 {
			t.Errorf("after %g tau the interval is %.1f K wide, before it was %.1f", n, w, last)
		} else {
			last = w
		}
	}
}

// TestBurst: while a burst runs the forecast is for the limit that follows.
func TestBurst(t *testing.T) {
	s := soak(60, 60)
	f, _ := path.Run(s, nil, path.Defaults())
	st := Judge(s, 200, len(s), 200, 15, &f, 22, Defaults())
	if st.Reached || st.Power != 15 || st.Why == "" {
		t.Errorf("state %+v", st)
	}
}

// TestCycles: of a load that is busy for 6 of every 10 s the power to come is the mean
// over whole cycles, wherever in one the trace ends.
func TestCycles(t *testing.T) {
	for _, seconds := range []float64{243, 247, 249.9} {
		s := soak(60, seconds)
		for i := range s {
			s[i].Power = 5
			if at := float64(i) / 10; at >= 20 && math.Mod(at-20, 10) < 6 {
				s[i].Power = 30
			}
		}
		from, to, n := cycles(s, 200, len(s))
		if p := series.Mean(s[from:to], series.PowerOf); n < 10 || math.Abs(p-20) > 0.2 {
			t.Errorf("until %g s: %.2f W over %d cycles, want 20", seconds, p, n)
		}
	}
	if _, _, n := cycles(soak(60, 200), 200, 2000); n != 0 {
		t.Errorf("%d cycles in a plain load", n)
	}
}
