package step

import (
	"math"
	"math/rand/v2"
	"testing"

	"soakline/analysis/load"
	"soakline/analysis/series"
)

// law is the limiter of limiter_step.csv: dA/dt = (P-A)/tau; power is short until A comes
// to long, then long; a pause lets A sink. Computed at 1 ms, sampled at 10 Hz with 1 %
// noise. It gives the samples and the instants at which power fell.
type law struct{ rest, long, short, tau, start float64 }

// pause is a stretch without demand, s.
type pause struct{ from, to float64 }

func (l law) run(seconds float64, rng *rand.Rand, pauses ...pause) (s []series.Sample, falls []float64) {
	a, held := l.start, false
	for i := range int(10 * seconds) {
		sum := 0.0
		for k := range 100 {
			t := float64(i)/10 + float64(k)/1000
			p := l.short
			busy := true
			for _, q := range pauses {
				busy = busy && (t < q.from || t >= q.to)
			}
			if a >= l.long && busy && !held {
				held = true
				falls = append(falls, t)
			}
			if held {
				p = l.long
			}
			if !busy {
				p = l.rest
			}
			if a < 0.985*l.long {
				held = false
			}
			a += 0.001 / l.tau * (p - a)
			sum += p / 100
		}
		n := math.NaN()
		at := float64(i+1) / 10
		s = append(s, series.Sample{At: at, Dt: 0.1, Power: sum * (1 + 0.01*rng.NormFloat64()), Die: n, DieMax: n, Clock: n, Load: n, Ambient: n})
	}
	return s, falls
}

// find runs the search as the analysis does.
func find(s []series.Sample) Found {
	return Find(s, load.Find(s, load.Defaults()).Spans, math.NaN(), Defaults())
}

func same(t *testing.T, got []Fall, want []float64, within float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d falls %v, want %v", len(got), got, want)
	}
	for i := range got {
		if math.Abs(got[i].At-want[i]) > within {
			t.Errorf("fall at %.3f s, want %.3f", got[i].At, want[i])
		}
	}
}

// TestFalls: one burst, several in one trace, a plateau of 0.4 s that a pause cuts off,
// and a pause that is none.
func TestFalls(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	l := law{5, 28, 64, 16, 5}
	first := 20 + 16*math.Log(59.0/36) // the closed form: 27.904 s
	for name, pauses := range map[string][]pause{
		"one":                      {{0, 20}, {90, 100}},
		"several":                  {{0, 20}, {60, 70}, {110, 130}, {180, 190}},
		"cut off":                  {{0, 20}, {first + 0.4, 34}, {60, 61}, {90, 100}},
		"no fall before the pause": {{0, 20}, {26, 27}, {60, 70}},
	} {
		t.Run(name, func(t *testing.T) {
			s, falls := l.run(200, rng, pauses...)
			same(t, find(s).Falls, falls, 0.05)
			if name != "no fall before the pause" && math.Abs(falls[0]-first) > 0.002 {
				t.Errorf("the law itself falls at %.4f s, the closed form says %.4f", falls[0], first)
			}
		})
	}
}

// TestNoFall: a load at one power, and one whose passes end before the budget does, have
// none, and the reason says so.
func TestNoFall(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for name, l := range map[string]law{"below the limit": {5, 28, 20, 16, 5}} {
		s, _ := l.run(100, rng, pause{0, 20})
		if f := find(s); len(f.Falls) != 0 || f.Why == "" {
			t.Errorf("%s: %v, %q", name, f.Falls, f.Why)
		}
	}
	var short []pause
	for at := 0.0; at < 200; at += 20 {
		short = append(short, pause{at, at + 17})
	}
	s, falls := law{5, 28, 64, 16, 5}.run(200, rng, short...)
	if f := find(s); len(falls) != 0 || len(f.Falls) != 0 {
		t.Errorf("passes of 3 s: fell at %v, found %v", falls, f.Falls)
	}
}

// TestSolve: from any start the interval holds the time constant; from rest the value is
// within 5 %.
func TestSolve(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	held, runs := 0, 0
	for _, tau := range []float64{8, 16, 28, 56} {
		for _, warm := range []float64{5, 15, 24} {
			l := law{5, 28, 64, tau, warm}
			s, _ := l.run(60+8*tau, rng, pause{0, 10}, pause{10 + 3*tau, 20 + 3*tau})
			f := find(s)
			var hits []Hit
			for _, x := range f.Falls {
				hits = append(hits, Hit{x.At, x.Before, 0.1})
			}
			h := NewHistory(s, hits)
			if !h.Covers(s, hits) {
				t.Fatal("a history does not cover its own hits")
			}
			got := Solve(s, &h, hits, 28, 0.02, 0.5, false, Defaults())
			runs++
			if got.Low <= tau && tau <= got.High {
				held++
			}
			if warm == l.rest && math.Abs(got.Value/tau-1) > 0.05 {
				t.Errorf("tau %g from %g W: %.2f (%.2f to %.2f)", tau, warm, got.Value, got.Low, got.High)
			}
		}
	}
	if held < runs-2 {
		t.Errorf("the interval holds the truth in %d of %d", held, runs)
	}
	if got := Solve(nil, &History{p0: 28}, nil, 28, 0.1, 0.5, false, Defaults()); !math.IsNaN(got.Value) || got.Why == "" {
		t.Errorf("from nothing: %+v", got)
	}
}
