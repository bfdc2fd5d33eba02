package changepoint

import (
	"math"

	"soakline/analysis/stats"
)

// Shift is a change of the mean by Jump between two regimes whose long-run variances are
// Before and After (equal to the plain variances where values are independent).
type Shift struct {
	Jump, Before, After float64
}

// Interval says how many values before and after the estimated change the true one may
// lie, at this level, each rounded outward (Bai 1997, Rev. Econ. Stat. 79:551; Bai, Perron
// 1998, Econometrica 66:47: the place where a two-sided Brownian motion with drift is
// highest). NaN where the jump or the variances are unknown or zero.
func (s Shift) Interval(level float64) (before, after float64) {
	if !(s.Jump != 0 && s.Before > 0 && s.After > 0) {
		return math.NaN(), math.NaN()
	}
	ratio := s.After / s.Before
	scale := s.Before / (s.Jump * s.Jump)
	tail := (1 - level) / 2
	lo := solveArgmax(tail, ratio)
	hi := solveArgmax(1-tail, ratio)
	// A maximum to the right of the truth puts the truth to the left of the estimate.
	return math.Ceil(hi * scale), math.Ceil(-lo * scale)
}

// solveArgmax inverts argmaxCDF by bisection.
func solveArgmax(p, ratio float64) float64 {
	lo, hi := -1.0, 1.0
	for argmaxCDF(lo, ratio) > p && lo > -1e7 {
		lo *= 2
	}
	for argmaxCDF(hi, ratio) < p && hi < 1e7 {
		hi *= 2
	}
	for range 100 {
		if m := (lo + hi) / 2; argmaxCDF(m, ratio) < p {
			lo = m
		} else {
			hi = m
		}
	}
	return (lo + hi) / 2
}

// argmaxCDF is the distribution of the argument of the maximum of V(s) = W1(-s) - |s|/2
// left of 0 and sqrt(ratio) W2(s) - s/2 right of it (Bai 1997, appendix B, with equal
// regressors on both sides). For ratio 1 it is the closed form of Yao 1987 (Ann. Stat.
// 15:1321): 1 + sqrt(x/2 pi) exp(-x/8) - (x+5)/2 Phi(-sqrt(x)/2) + 3/2 e^x Phi(-3/2 sqrt x).
func argmaxCDF(x, ratio float64) float64 {
	phi := ratio
	root := math.Sqrt(math.Abs(x))
	switch {
	case x < 0:
		x, f := -x, 1/phi
		return -root*math.Exp(-x/8)/math.Sqrt(2*math.Pi) -
			phi*(phi+2)/(phi+1)*expTail(f*(1+f)*x/2, -(0.5+f)*root) +
			(x/2-2+(phi+2)*(phi+2)/(phi+1))*stats.NormalCDF(-root/2)
	default:
		f := 1 / phi
		return 1 + math.Sqrt(f)*root*math.Exp(-f*x/8)/math.Sqrt(2*math.Pi) +
			(2*phi+1)/(phi*(phi+1))*expTail((phi+1)*x/2, -(phi+0.5)/math.Sqrt(phi)*root) -
			((2*phi+1)*(2*phi+1)/((phi+1)*phi)-2+f*x/2)*stats.NormalCDF(-math.Sqrt(f)*root/2)
	}
}

// expTail is exp(e) Phi(z) for z <= 0 without overflow, by the asymptotic series of the
// normal tail where z is large.
func expTail(e, z float64) float64 {
	if z > -25 {
		return math.Exp(e) * stats.NormalCDF(z)
	}
	w := 1 / (z * z)
	return math.Exp(e-z*z/2) / (-z * math.Sqrt(2*math.Pi)) * (1 - w*(1-3*w*(1-5*w)))
}
