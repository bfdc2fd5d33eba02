package thermal

import (
	"math"
	"testing"
)

// BenchmarkCompare is the joint fit of two runs by their length and kind of load.
func BenchmarkCompare(b *testing.B) {
	cauer, _ := published(b)
	base, _ := cauer["base"].Foster()
	worse, _ := cauer["near_worse"].Foster()
	for _, c := range []struct {
		name  string
		hours float64
		duty  float64 // s, 0 for one burst
	}{{"15min", 0.25, 0}, {"1h", 1, 0}, {"24h", 24, 0}, {"6h-duty-4s", 6, 4}} {
		n := int(c.hours * 36000)
		power := burst(n, 0.1, 5, 64, 28)
		for i := range power {
			if t := float64(i) * 0.1; c.duty > 0 && t > 30 && math.Mod(t, c.duty) > 0.7*c.duty {
				power[i] = 5
			}
		}
		x, y := simulate(base, power, 0.1, 22, 0.3, 1, 1), simulate(worse, power, 0.1, 24, 0.3, 1, 2)
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				change, err := Compare(x, y)
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(math.Exp(change.LnNear), "near-ratio")
			}
			r, _ := reduce(x)
			b.ReportMetric(float64(len(r.rows)), "rows")
		})
	}
}
