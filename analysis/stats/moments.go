package stats

import "math"

// Sum adds with Neumaier's compensation (Neumaier 1974, Z. Angew. Math. Mech. 54:39).
func Sum(x []float64) float64 {
	var s, c float64
	for _, v := range x {
		t := s + v
		if math.Abs(s) >= math.Abs(v) {
			c += (s - t) + v
		} else {
			c += (v - t) + s
		}
		s = t
	}
	return s + c
}

// Mean is the arithmetic mean; NaN of nothing.
func Mean(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	return Sum(x) / float64(len(x))
}

// Variance is the sample variance with divisor n-1, by two passes with the correction
// for the rounded mean (Chan, Golub, LeVeque 1983, Am. Stat. 37:242); NaN below 2 values.
func Variance(x []float64) float64 {
	n := float64(len(x))
	if n < 2 {
		return math.NaN()
	}
	m := Mean(x)
	var ss, s float64
	for _, v := range x {
		d := v - m
		ss += d * d
		s += d
	}
	return (ss - s*s/n) / (n - 1)
}

// SD is the sample standard deviation.
func SD(x []float64) float64 { return math.Sqrt(Variance(x)) }

// Autocorrelation is the sample autocorrelation at lag k, with the overall mean and the
// divisor n for every lag (Box, Jenkins), as NIST StRD certifies for lag 1. A constant
// series has none: NaN.
func Autocorrelation(x []float64, k int) float64 {
	if k < 0 || k >= len(x) {
		return math.NaN()
	}
	m := Mean(x)
	var c0, ck float64
	for i, v := range x {
		c0 += (v - m) * (v - m)
		if i+k < len(x) {
			ck += (v - m) * (x[i+k] - m)
		}
	}
	if c0 == 0 {
		return math.NaN()
	}
	return ck / c0
}

// Lag1 is the autocorrelation at lag 1.
func Lag1(x []float64) float64 { return Autocorrelation(x, 1) }
