package stats

import (
	"math"
	"slices"
)

// Quantile is the p-quantile by linear interpolation of the order statistics (Hyndman,
// Fan 1996, Am. Stat. 50:361, type 7). NaN values are left out; NaN of nothing or of p
// outside 0..1.
func Quantile(x []float64, p float64) float64 {
	s := sorted(x)
	return quantileSorted(s, p)
}

// Quantiles gives several quantiles with one sort.
func Quantiles(x []float64, ps ...float64) []float64 {
	s := sorted(x)
	out := make([]float64, len(ps))
	for i, p := range ps {
		out[i] = quantileSorted(s, p)
	}
	return out
}

func sorted(x []float64) []float64 {
	s := make([]float64, 0, len(x))
	for _, v := range x {
		if !math.IsNaN(v) {
			s = append(s, v)
		}
	}
	slices.Sort(s)
	return s
}

func quantileSorted(s []float64, p float64) float64 {
	if len(s) == 0 || !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	h := p * float64(len(s)-1)
	i := int(h)
	if i+1 >= len(s) {
		return s[len(s)-1]
	}
	return s[i] + (h-float64(i))*(s[i+1]-s[i])
}

// Median is the 0.5-quantile.
func Median(x []float64) float64 { return Quantile(x, 0.5) }

// toNormal turns a median absolute deviation into a normal standard deviation:
// 1/Phi^-1(3/4).
const toNormal = 1.4826022185056018

// MAD is the median absolute deviation from the median, scaled to the standard deviation
// of normal data (Hampel 1974, J. Am. Stat. Assoc. 69:383).
func MAD(x []float64) float64 {
	m := Median(x)
	d := make([]float64, 0, len(x))
	for _, v := range x {
		d = append(d, math.Abs(v-m))
	}
	return toNormal * Median(d)
}

// Noise describes the scatter about a mean that may step: what differences see.
type Noise struct {
	SD float64 // marginal standard deviation
	R  float64 // lag-1 correlation
}

// LongRunVariance is that of an AR(1) process: SD^2 (1+R)/(1-R).
func (n Noise) LongRunVariance() float64 { return n.SD * n.SD * (1 + n.R) / (1 - n.R) }

// CorrelationTime is the integrated autocorrelation time in samples, (1+R)/(1-R).
func (n Noise) CorrelationTime() float64 { return (1 + n.R) / (1 - n.R) }

// StepNoise estimates AR(1) noise from first and second differences, which a few steps of
// the mean cannot spoil: with v1 and v2 the mean squares of y[k+1]-y[k] and y[k+2]-y[k]
// without the largest fifth, r = v2/v1 - 1 and sd^2 = v1 / (2 (1-r)) in normal terms. NaN
// pairs are left out. r is held to 0..0.99, since a negative one would promise more than
// is there; where more than half of the differences are zero (a held or coarse sensor), r
// cannot be known: NaN.
//
// Medians in place of trimmed means stand up to more steps, but spread more: middle 90 %
// of r from 600 values of true r 0.8: 0.61 to 0.97 by medians, 0.65 to 0.97 by trimmed means.
func StepNoise(y []float64) Noise {
	v1, v2 := trimmedSquareDifference(y, 1), trimmedSquareDifference(y, 2)
	if !(v1 > 0) {
		return Noise{math.NaN(), math.NaN()}
	}
	r := min(max(v2/v1-1, 0), 0.99)
	return Noise{SD: math.Sqrt(v1 / (2 * (1 - r))), R: r}
}

// trimmedSquareDifference is the mean of the smallest four fifths of the squared
// differences, over what that is for standard normal ones: 1 - 2 q phi(q)/0.8 with q the
// 0.9-quantile. 0 where half of them are 0.
func trimmedSquareDifference(y []float64, lag int) float64 {
	const normal = 1 - 2*1.2815515655446004*0.1754983319324868/0.8
	if len(y) <= lag {
		return math.NaN()
	}
	d := make([]float64, 0, len(y))
	for i := lag; i < len(y); i++ {
		if v := math.Abs(y[i] - y[i-lag]); !math.IsNaN(v) {
			d = append(d, v)
		}
	}
	slices.Sort(d)
	n := (len(d)*4 + 4) / 5
	if n == 0 || d[len(d)/2] == 0 {
		return 0
	}
	s := 0.0
	for _, v := range d[:n] {
		s += v * v
	}
	return s / (float64(n) * normal)
}
