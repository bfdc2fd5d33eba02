package thermal

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Whatever stands in the columns, the answer is a number, a NaN or an error.
func TestNoPanicOnGarbage(t *testing.T) {
	draw := func(t *rapid.T) Series {
		n := rapid.IntRange(0, 90).Draw(t, "n")
		junk := rapid.SampledFrom([]float64{0, -1, 60, math.NaN(), math.NaN(), math.Inf(1), 1e300}).Draw(t, "junk")
		value := rapid.Custom(func(t *rapid.T) float64 {
			if rapid.IntRange(0, 9).Draw(t, "is junk") == 0 {
				return junk
			}
			return rapid.Float64Range(-50, 200).Draw(t, "value")
		})
		s, at := Series{}, 0.0
		for range n {
			at += rapid.SampledFrom([]float64{0, 0.1, 1, 30}).Draw(t, "dt")
			s.At = append(s.At, at)
			s.Power, s.Temp, s.Ref = append(s.Power, value.Draw(t, "p")), append(s.Temp, value.Draw(t, "t")), append(s.Ref, value.Draw(t, "ref"))
		}
		return s
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := draw(t), draw(t)
		if c, err := Compare(a, b); err == nil && math.IsInf(c.LnNear, 0) {
			t.Fatalf("%+v", c)
		}
		FitPath(a)
		Spectrum(a, 0.1, 100, 6, 0)
		if len(a.At) == len(b.At) {
			FitPair(Pair{At: a.At, Power: [2][]float64{a.Power, b.Power}, Temp: [2][]float64{a.Temp, b.Temp}})
		}
	})
}
