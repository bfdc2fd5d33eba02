package thermal

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
	"soakline/analysis/numeric"
)

// Series is a run in columns: interval means of power that end at At, and temperature.
type Series struct {
	At    []float64 // s, rising
	Power []float64 // W
	Temp  []float64 // degC; NaN where there is none
	Ref   []float64 // degC, the reference; nil or NaN where it is not measured
}

// ErrShort says that a series has too little to be analysed.
var ErrShort = errors.New("too few samples of power and temperature")

// Spectrum is the distribution of resistance over time constants that best explains the
// temperature under the measured power: non-negative least squares on a bank of n running
// averages from first to last seconds, with a free constant (the reference and the sensor's
// offset). Ridge, K^2 a (K/W)^2, steadies it; 0 leaves the bare, spiky answer. The second
// result is the constant, degC (K over the reference where one is given).
func Spectrum(s Series, first, last float64, n int, ridge float64) (Foster, float64, error) {
	if len(s.At) < 10 || len(s.Power) != len(s.At) || len(s.Temp) != len(s.At) || n < 1 || !(first > 0 && last >= first) {
		return Foster{}, 0, ErrShort
	}
	b := NewBank(first, last, n, s.Power[0])
	cols := n + 2 // the bank, and the constant as the difference of two non-negative ones
	ata, atb := mat.NewSymDense(cols, nil), make([]float64, cols)
	row := make([]float64, cols)
	row[n], row[n+1] = 100, -100
	for i := range s.At {
		if i > 0 {
			b.Push(s.Power[i], s.At[i]-s.At[i-1])
		}
		y := s.Temp[i] - refAt(s, i)
		if math.IsNaN(y) {
			continue
		}
		copy(row, b.X)
		for j, v := range row {
			for k := j; k < cols; k++ {
				ata.SetSym(j, k, ata.At(j, k)+v*row[k])
			}
			atb[j] += v * y
		}
	}
	for j := range n {
		ata.SetSym(j, j, ata.At(j, j)+ridge)
	}
	x := numeric.NNLS(ata, atb)
	if x == nil {
		return Foster{}, 0, ErrShort
	}
	return Foster{R: x[:n], Tau: b.Tau}, 100 * (x[n] - x[n+1]), nil
}

func refAt(s Series, i int) float64 {
	if i < len(s.Ref) && !math.IsNaN(s.Ref[i]) {
		return s.Ref[i]
	}
	return 0
}

// Deconvolve is the spectrum from a step response by Bayesian iteration (Kennett,
// Prestwich, Robertson 1978, Nucl. Instrum. Methods 151:285): with a = dZ/d(ln t) on an
// even grid of ln t and the kernel w(x) = exp(x - exp x), R <- R (w~ * (a / (w * R))).
// z[i] is Z at t = first exp(i step). Derivatives below zero are taken as zero. The result
// has the resistance a grid step. NNLS on the measured power (Spectrum) needs no
// derivative and no clean step, and is the better choice with noisy data.
func Deconvolve(z []float64, first, step float64, iterations int) (Foster, error) {
	n := len(z)
	if n < 5 || !(step > 0 && first > 0) {
		return Foster{}, ErrShort
	}
	a := make([]float64, n)
	for i := 1; i+1 < n; i++ {
		a[i] = max((z[i+1]-z[i-1])/(2*step), 0)
	}
	reach := int(math.Ceil(14 / step))
	w := make([]float64, 2*reach+1)
	for k := range w {
		x := float64(k-reach) * step
		w[k] = math.Exp(x-math.Exp(x)) * step
	}
	f := Foster{R: make([]float64, n), Tau: make([]float64, n)}
	for i := range f.R {
		f.R[i] = max(a[i], 1e-12)
		f.Tau[i] = first * math.Exp(float64(i)*step)
	}
	for range iterations {
		blurred := convolve(f.R, w, reach, 1)
		for i := range blurred {
			blurred[i] = a[i] / max(blurred[i], 1e-300)
		}
		back := convolve(blurred, w, reach, -1)
		for i := range f.R {
			f.R[i] *= back[i]
		}
	}
	for i := range f.R {
		f.R[i] *= step
	}
	return f, nil
}

// convolve gives sum_j x[j] w(sign (i-j)).
func convolve(x, w []float64, reach, sign int) []float64 {
	out := make([]float64, len(x))
	for i := range out {
		for j := max(0, i-reach); j <= min(len(x)-1, i+reach); j++ {
			out[i] += x[j] * w[reach+sign*(i-j)]
		}
	}
	return out
}
