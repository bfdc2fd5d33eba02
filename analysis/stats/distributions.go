package stats

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// NormalCDF is the standard normal distribution function.
func NormalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// NormalQuantile is the standard normal quantile; NaN for p outside 0..1.
func NormalQuantile(p float64) float64 {
	if !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	return distuv.UnitNormal.Quantile(p)
}

// TQuantile is Student's t quantile for nu degrees of freedom, not necessarily whole;
// +Inf gives the normal one, NaN or nu <= 0 gives NaN.
func TQuantile(p, nu float64) float64 {
	switch {
	case !(nu > 0) || !(p > 0 && p < 1):
		return math.NaN()
	case nu > 1e7:
		return NormalQuantile(p)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(p)
}

// TCDF is Student's t distribution function for nu degrees of freedom.
func TCDF(t, nu float64) float64 {
	switch {
	case !(nu > 0) || math.IsNaN(t):
		return math.NaN()
	case nu > 1e7:
		return NormalCDF(t)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.CDF(t)
}

// FUpper is the chance that an F variable of d1 and d2 degrees of freedom exceeds f.
func FUpper(f, d1, d2 float64) float64 {
	if !(f >= 0 && d1 > 0 && d2 > 0) {
		return math.NaN()
	}
	return 1 - distuv.F{D1: d1, D2: d2}.CDF(f)
}

// noncentralTUpper is P(T > t) for a t variable of nu degrees of freedom and
// non-centrality delta: the mean of Phi(delta - t s) over s^2 = chi^2_nu/nu.
func noncentralTUpper(t, nu, delta float64) float64 {
	chi := distuv.ChiSquared{K: nu}
	lo, hi := chi.Quantile(1e-12), chi.Quantile(1-1e-12)
	f := func(v float64) float64 { return chi.Prob(v) * NormalCDF(delta-t*math.Sqrt(v/nu)) }
	// The density has its mass on a scale of sqrt(v): integrate in that variable.
	g := func(u float64) float64 { return 2 * u * f(u*u) }
	return quad.Fixed(g, math.Sqrt(lo), math.Sqrt(hi), 200, quad.Legendre{}, 0)
}

// Power is the chance that a two-sample, two-sided t test at level alpha (0.05) with n
// values a side sees a difference of d standard deviations (Cohen 1988, Statistical
// Power Analysis). n may be fractional; the far tail is left out.
func Power(n, d, alpha float64) float64 {
	nu := 2 * (n - 1)
	if !(nu > 0) {
		return math.NaN()
	}
	return noncentralTUpper(TQuantile(1-alpha/2, nu), nu, math.Abs(d)*math.Sqrt(n/2))
}

// RunsNeeded is how many runs a side a two-sample t test needs to see a difference of d
// run-to-run standard deviations with this power (0.8) at level alpha; fractional, round
// it up. NaN for d = 0; at most 1e6.
func RunsNeeded(d, power, alpha float64) float64 {
	if !(math.Abs(d) > 0) || !(power > 0 && power < 1) {
		return math.NaN()
	}
	lo, hi := 1.0+1e-3, 2.0
	for Power(hi, d, alpha) < power {
		if lo, hi = hi, 2*hi; hi > 1e6 {
			return 1e6
		}
	}
	for range 80 {
		if m := (lo + hi) / 2; Power(m, d, alpha) < power {
			lo = m
		} else {
			hi = m
		}
	}
	return hi
}

// Detectable is the smallest difference, in run-to-run standard deviations, that n runs a
// side show with this power at level alpha.
func Detectable(n int, power, alpha float64) float64 {
	if n < 2 {
		return math.NaN()
	}
	lo, hi := 0.0, 100.0
	for range 80 {
		if m := (lo + hi) / 2; Power(float64(n), m, alpha) < power {
			lo = m
		} else {
			hi = m
		}
	}
	return hi
}
