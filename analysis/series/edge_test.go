package series

import (
	"math"
	"math/rand/v2"
	"testing"

	"soakline/analysis/changepoint"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// edges pushes powers at 10 Hz and gives the samples at which an edge begins.
func edges(power []float64) (at []int) {
	s := NewStore([]telemetry.Channel{{Key: "p", Quantity: quantity.Power, Role: telemetry.RolePower}})
	was := false
	for i, p := range power {
		s.Push(float64(i)/10, []float64{p}, []telemetry.State{telemetry.Fresh})
		now := s.Samples()[len(s.Samples())-1].edge
		if now && !was {
			at = append(at, i)
		}
		was = now
	}
	return at
}

// noisy is power about 40 W with relative noise sd of lag-1 correlation r, and a step by a
// share at sample from.
func noisy(rng *rand.Rand, n int, sd, r, step float64, from int) []float64 {
	out := make([]float64, n)
	e := rng.NormFloat64()
	for i := range out {
		e = r*e + math.Sqrt(1-r*r)*rng.NormFloat64()
		out[i] = 40 * (1 + sd*e)
		if i >= from {
			out[i] *= 1 + step
		}
	}
	return out
}

// TestEdgeRate measures the detector's promise: false alarms in two hours of noise, and
// the delay after a step, beside a CUSUM that knows the noise and is set to one false
// alarm an hour.
func TestEdgeRate(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, c := range []struct {
		sd, r float64
		most  int // false alarms in two hours
	}{{0.01, 0.3, 0}, {0.02, 0.8, 0}, {0.037, 0.5, 0}} {
		if got := edges(noisy(rng, 72000, c.sd, c.r, 0, 1<<30)); len(got) > c.most {
			t.Errorf("noise %g, correlation %g: %d false alarms in two hours", c.sd, c.r, len(got))
		}
	}
	for _, c := range []struct{ step, longest float64 }{{0.25, 6}, {0.5, 3}, {-0.5, 3}, {1.2, 2}} { // samples
		sum, cusum := 0.0, 0.0
		const runs = 60
		h := changepoint.Bound(0.5, 36000)
		for range runs {
			y := noisy(rng, 400, 0.01, 0.3, c.step, 200)
			at := edges(y)
			if len(at) == 0 {
				t.Fatalf("a step by %g is not seen", c.step)
			}
			sum += float64(at[0]-199) / runs
			w, d := changepoint.Whitener{Mean: 40, SD: 0.4, R: 0.3}, changepoint.CUSUM{K: 0.5, H: h}
			for i, p := range y {
				if alarm, _ := d.Push(w.Push(p)); alarm != 0 && i >= 200 {
					cusum += float64(i-199) / runs
					break
				}
			}
		}
		t.Logf("step by %+.0f %%: seen after %.1f samples, by a CUSUM that knows the noise after %.1f", 100*c.step, sum, cusum)
		if sum > c.longest {
			t.Errorf("a step by %g is seen after %.1f samples, want %g", c.step, sum, c.longest)
		}
	}
}
