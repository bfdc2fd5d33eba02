package stats

import (
	"math"
	"slices"
)

// QuantisationSE is the standard uncertainty of the mean of readings in steps of q whose
// own scatter, as read, is sd: the root mean square, over all positions between two
// steps, of the bias of the mean of rounded normal values,
//
//	q^2 sum_k exp(-4 pi^2 k^2 s^2/q^2) / (2 pi^2 k^2),
//
// by the harmonics of the rounding error (Widrow, Kollar 2008, Quantization Noise). It is
// q/sqrt(12) for a reading that never moves and vanishes where noise dithers the steps. s
// is sd with the rounding noise q^2/12 taken off (Sheppard's correction).
func QuantisationSE(sd, q float64) float64 {
	if !(q > 0) {
		return 0
	}
	s2 := max(sd*sd/(q*q)-1.0/12, 0)
	if math.IsNaN(sd) {
		s2 = 0
	}
	v := 0.0
	for k := 1.0; k <= 200; k++ {
		term := math.Exp(-4*math.Pi*math.Pi*k*k*s2) / (2 * math.Pi * math.Pi * k * k)
		v += term
		if term < 1e-15 {
			break
		}
	}
	return q * math.Sqrt(v)
}

// QuantisationBias is the largest bias of the mean of values rounded to whole steps, for
// normal noise of sd s steps, over all positions of the true mean between two steps.
func QuantisationBias(s float64) float64 {
	if !(s >= 0) {
		return math.NaN()
	}
	worst := 0.0
	for i := 0; i <= 2000; i++ {
		mu := float64(i) / 4000 // bias is odd about 0 and periodic in 1
		worst = max(worst, math.Abs(roundedMean(mu, s)-mu))
	}
	return worst
}

// roundedMean sums j P(round(mu + s Z) = j) over the steps that matter.
func roundedMean(mu, s float64) float64 {
	if s == 0 {
		return math.Floor(mu + 0.5 - 1e-12)
	}
	reach := int(math.Ceil(9*s)) + 2
	m := 0.0
	for j := -reach; j <= reach; j++ {
		hi, lo := (float64(j)+0.5-mu)/s, (float64(j)-0.5-mu)/s
		m += float64(j) * (NormalCDF(hi) - NormalCDF(lo))
	}
	return m
}

// Resolution learns the step q of readings: the smallest difference between two distinct
// values, where all differences are whole multiples of it within 2 % of a step and steps
// repeat; 0 where the values show no grid.
func Resolution(x []float64) float64 {
	u := slices.Compact(sorted(x))
	if len(u) < 2 || len(x) < 3*len(u) {
		return 0
	}
	q := math.Inf(1)
	for i := 1; i < len(u); i++ {
		if d := u[i] - u[i-1]; d > 1e-9*math.Abs(u[i]) {
			q = min(q, d)
		}
	}
	for i := 1; i < len(u); i++ {
		d := (u[i] - u[i-1]) / q
		if math.Abs(d-math.Round(d)) > 0.02 {
			return 0
		}
	}
	return q
}
