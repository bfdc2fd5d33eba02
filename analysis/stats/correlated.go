package stats

import "math"

// CorrelationTime is the integrated autocorrelation time g = 1 + 2 sum r_k in samples,
// summed up to the first r_k below 0.05; at least 1. The mean of n values is worth n/g
// independent ones. A constant series gives NaN.
func CorrelationTime(x []float64) float64 {
	n := len(x)
	if n < 3 {
		return math.NaN()
	}
	d, m, c0 := make([]float64, n), Mean(x), 0.0
	for i, v := range x {
		d[i] = v - m
		c0 += d[i] * d[i]
	}
	if !(c0 > 0) {
		return math.NaN()
	}
	g := 1.0
	for k := 1; k < n/2; k++ {
		c := 0.0
		for i := k; i < n; i++ {
			c += d[i] * d[i-k]
		}
		if c < 0.05*c0 {
			break
		}
		g += 2 * c / c0
	}
	return g
}

// EffectiveN is how many independent values the mean of x is worth.
func EffectiveN(x []float64) float64 { return float64(len(x)) / CorrelationTime(x) }

// LongRunVariance is the Newey-West estimate (1987, Econometrica 55:703) with Bartlett
// weights 1 - k/(lag+1); lag < 0 takes 4 (n/100)^(2/9) (Newey, West 1994). The variance of
// the mean of x is this over n.
func LongRunVariance(x []float64, lag int) float64 {
	n := len(x)
	if n < 2 {
		return math.NaN()
	}
	if lag < 0 {
		lag = int(4 * math.Pow(float64(n)/100, 2.0/9))
	}
	m := Mean(x)
	v := 0.0
	for k := 0; k <= min(lag, n-1); k++ {
		c := 0.0
		for i := k; i < n; i++ {
			c += (x[i] - m) * (x[i-k] - m)
		}
		w := 1 - float64(k)/float64(lag+1)
		if k > 0 {
			w *= 2
		}
		v += w * c / float64(n)
	}
	return v
}

// BatchMeans is the standard error of the mean by blocking (Flyvbjerg, Petersen 1989,
// J. Chem. Phys. 91:461): values are averaged in pairs again and again, and the largest
// of the standard errors with at least 8 blocks is taken, since the estimate rises until
// blocks are independent. The second result is the block length in samples.
func BatchMeans(x []float64) (se float64, block int) {
	se, block = math.NaN(), 0
	b := append([]float64(nil), x...)
	for size := 1; len(b) >= 8; size *= 2 {
		if s := SD(b) / math.Sqrt(float64(len(b))); !(s <= se) {
			se, block = s, size
		}
		for i := 0; i+1 < len(b); i += 2 {
			b[i/2] = (b[i] + b[i+1]) / 2
		}
		b = b[:len(b)/2]
	}
	return se, block
}

// AR1MeanVariance is the exact variance of the mean of n values of an AR(1) series of
// unit variance and lag-1 correlation r (Bayley, Hammersley 1946, Suppl. J. R. Stat. Soc.
// 8:184): (1/n) [(1+r)/(1-r) - 2 r (1-r^n) / (n (1-r)^2)].
func AR1MeanVariance(r float64, n int) float64 {
	if n < 1 || !(r > -1 && r < 1) {
		return math.NaN()
	}
	m := float64(n)
	return ((1+r)/(1-r) - 2*r*(1-math.Pow(r, m))/(m*(1-r)*(1-r))) / m
}

// Estimate is a value with its standard uncertainty and degrees of freedom (+Inf where
// the uncertainty itself is taken as known).
type Estimate struct {
	Value, SE, DF float64
}

// Interval is the two-sided interval of Student's t at this level (0.9 for 90 %).
func (e Estimate) Interval(level float64) (low, high float64) {
	h := TQuantile(0.5+level/2, e.DF) * e.SE
	return e.Value - h, e.Value + h
}

// MeanOf is the mean of an autocorrelated series that was read in steps of q (0: none):
// the larger of the errors by correlation time and by blocking, with the uncertainty that
// rounding leaves (QuantisationSE) added. DF counts effective values less one.
func MeanOf(x []float64, q float64) Estimate {
	n := float64(len(x))
	sd := SD(x)
	g := CorrelationTime(x)
	if math.IsNaN(g) {
		g = 1
	}
	se := sd * math.Sqrt(g/n)
	if b, _ := BatchMeans(x); b > se {
		se = b
	}
	return Estimate{Value: Mean(x), SE: math.Hypot(se, QuantisationSE(sd, q)), DF: max(n/g-1, 1)}
}
