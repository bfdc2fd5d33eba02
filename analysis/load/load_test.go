package load

import (
	"math"
	"testing"

	"soakline/analysis/series"
)

// trace is power (and load, NaN for none) every 0.1 s.
func trace(n int, of func(t float64) (power, busy float64)) []series.Sample {
	out := make([]series.Sample, n)
	for i := range out {
		t := float64(i+1) / 10
		p, l := of(t - 0.05)
		out[i] = series.Sample{At: t, Dt: 0.1, Power: p, Load: l, Die: math.NaN(), Clock: math.NaN()}
	}
	return out
}

func check(t *testing.T, got []Span, want ...[2]float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("spans %v, want %v", got, want)
	}
	for i, w := range want {
		if math.Abs(got[i].From-w[0]) > 0.15 || math.Abs(got[i].To-w[1]) > 0.15 {
			t.Errorf("span %g to %g, want %g to %g", got[i].From, got[i].To, w[0], w[1])
		}
	}
}

func TestSpans(t *testing.T) {
	none := math.NaN()
	for _, c := range []struct {
		name string
		of   func(t float64) (float64, float64)
		want [][2]float64
	}{
		{"a step", func(t float64) (float64, float64) { return pick(t > 20 && t < 70, 40, 5), none }, [][2]float64{{20, 70}}},
		{"a duty cycle of half a second", func(t float64) (float64, float64) {
			return pick(t > 20 && t < 70 && math.Mod(t, 1) < 0.5, 40, 5), none
		}, [][2]float64{{20, 69.5}}},
		{"a pause of 2 s is within, one of 6 s parts", func(t float64) (float64, float64) {
			return pick(t > 10 && t < 20 || t > 22 && t < 40 || t > 46 && t < 60, 40, 5), none
		}, [][2]float64{{10, 40}, {46, 60}}},
		{"a blip is no load", func(t float64) (float64, float64) { return pick(t > 20 && t < 21 || t > 40 && t < 60, 40, 5), none }, [][2]float64{{40, 60}}},
		{"burst and plateau without rest, by the busy share", func(t float64) (float64, float64) { return pick(t < 20, 64, 28), 99 }, [][2]float64{{0, 80}}},
		{"a light load that power hides", func(t float64) (float64, float64) { return 20, pick(t > 30 && t < 50, 60, 1) }, [][2]float64{{30, 50}}},
		{"rest alone", func(t float64) (float64, float64) { return 5 + 0.3*math.Sin(t), 1 }, nil},
		{"nothing known", func(t float64) (float64, float64) { return none, none }, nil},
	} {
		t.Run(c.name, func(t *testing.T) { check(t, Find(trace(800, c.of), Defaults()).Spans, c.want...) })
	}
}

func pick(yes bool, a, b float64) float64 {
	if yes {
		return a
	}
	return b
}
