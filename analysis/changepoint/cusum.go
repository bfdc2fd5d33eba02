package changepoint

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
)

// CUSUM is the two-sided cumulative sum of Page 1954 (Biometrika 41:100) over values of
// unit variance without correlation; Whitener makes such values. K is half the shift that
// is looked for, H the bound, both in standard deviations. It starts anew after an alarm.
//
// Its rate of false alarms and its delay, by TwoSidedRunLength for independent values and
// held by the detector itself on whitened noise of correlation 0.8 within 6 %
// (TestCUSUMKeepsItsPromise), with K 0.5: H 5 gives a false alarm in 465 values and sees a
// shift by 1, 2, 3 standard deviations after 10.4, 4.0, 2.6 values; H 12.5 gives one in
// 864,000, a day at 10 Hz, and sees them after 25, 9.0, 5.6.
type CUSUM struct {
	K, H             float64
	up, down         float64
	upSince, dnSince int
	n                int
}

// Push takes the next value; alarm is +1 or -1 where the mean has moved up or down, and
// ago how many values ago it probably did.
func (c *CUSUM) Push(z float64) (alarm, ago int) {
	c.n++
	if math.IsNaN(z) {
		return 0, 0
	}
	if c.up = c.up + z - c.K; !(c.up > 0) {
		c.up, c.upSince = 0, c.n
	}
	if c.down = c.down - z - c.K; !(c.down > 0) {
		c.down, c.dnSince = 0, c.n
	}
	switch {
	case c.up > c.H:
		alarm, ago = 1, c.n-c.upSince
	case c.down > c.H:
		alarm, ago = -1, c.n-c.dnSince
	default:
		return 0, 0
	}
	c.up, c.down, c.upSince, c.dnSince = 0, 0, c.n, c.n
	return alarm, ago
}

// Whitener turns AR(1) values about Mean with standard deviation SD and lag-1 correlation
// R into independent values of unit variance. A shift of the mean by d standard
// deviations comes out as d sqrt((1-R)/(1+R)).
type Whitener struct {
	Mean, SD, R float64
	last        float64
	warm        bool
}

// Push gives the whitened value; the first is scaled by SD alone.
func (w *Whitener) Push(y float64) float64 {
	d := y - w.Mean
	if math.IsNaN(d) {
		w.warm = false
		return math.NaN()
	}
	z := d / w.SD
	if w.warm {
		z = (d - w.R*w.last) / (w.SD * math.Sqrt(1-w.R*w.R))
	}
	w.last, w.warm = d, true
	return z
}

// RunLength is the mean number of values until a CUSUM of one side alarms, from 0, for
// independent normal values of unit variance about shift: Page's integral equation
//
//	L(s) = 1 + L(0) Phi(k-s-shift) + int_0^h L(x) phi(x+k-s-shift) dx
//
// by 80-point Gauss-Legendre (Brook, Evans 1972, Biometrika 59:539, by a Markov chain).
// NaN for bounds below 0.
func RunLength(k, h, shift float64) float64 {
	if !(h > 0) || math.IsNaN(k+shift) {
		return math.NaN()
	}
	const n = 80
	x, w := make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(x, w, 0, h)
	a, b := mat.NewDense(n+1, n+1, nil), mat.NewVecDense(n+1, nil)
	for i := 0; i <= n; i++ { // row and column n stand for s = 0
		s := 0.0
		if i < n {
			s = x[i]
		}
		for j := 0; j < n; j++ {
			z := x[j] + k - s - shift
			a.Set(i, j, -w[j]*math.Exp(-z*z/2)/math.Sqrt(2*math.Pi))
		}
		a.Set(i, n, -0.5*math.Erfc(-(k-s-shift)/math.Sqrt2))
		a.Set(i, i, a.At(i, i)+1)
		b.SetVec(i, 1)
	}
	var l mat.VecDense
	if l.SolveVec(a, b) != nil {
		return math.Inf(1)
	}
	return l.AtVec(n)
}

// TwoSidedRunLength is that of both sides together: 1/L = 1/L+ + 1/L-. At shift 0 it is
// the number of values to a false alarm, else the delay.
func TwoSidedRunLength(k, h, shift float64) float64 {
	return 1 / (1/RunLength(k, h, shift) + 1/RunLength(k, h, -shift))
}

// Bound is the bound h at which a two-sided CUSUM gives one false alarm in this many
// independent values; NaN below 2 values.
func Bound(k, values float64) float64 {
	if !(values > 2) {
		return math.NaN()
	}
	lo, hi := 0.01, 1.0
	for TwoSidedRunLength(k, hi, 0) < values && hi < 60 {
		lo, hi = hi, 2*hi
	}
	for range 50 {
		if m := (lo + hi) / 2; TwoSidedRunLength(k, m, 0) < values {
			lo = m
		} else {
			hi = m
		}
	}
	return (lo + hi) / 2
}
