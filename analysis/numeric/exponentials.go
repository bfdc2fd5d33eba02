package numeric

import (
	"errors"
	"math"
	"slices"
)

// Exponentials is y(t) = Const + sum Amp_i exp(-t/Tau_i), Tau rising.
type Exponentials struct {
	Amp, Tau []float64
	Const    float64
	RSS      float64
	// Cov is the covariance for residuals of unit variance, in the order Amp, ln Tau and,
	// where it was fitted, Const.
	Cov [][]float64
}

// At is the value at t.
func (e Exponentials) At(t float64) float64 {
	y := e.Const
	for i, a := range e.Amp {
		y += a * math.Exp(-t/e.Tau[i])
	}
	return y
}

// FitExponentials fits k exponentials, with or without a constant, by variable projection
// (Golub, Pereyra 1973, SIAM J. Numer. Anal. 10:413): the amplitudes are solved for inside,
// so that only ln tau is searched, from several log-spaced starts between the shortest
// step and ten times the span. Sums of exponentials are ill-posed (Istratov, Vyvenko 1999,
// Rev. Sci. Instrum. 70:1233): look at Cov before believing them.
func FitExponentials(t, y []float64, k int, constant bool) (Exponentials, error) {
	cols := k
	if constant {
		cols++
	}
	if k < 1 || len(t) != len(y) || len(t) < k+cols || !finite(t) || !finite(y) {
		return Exponentials{}, errors.New("too few finite values for so many exponentials")
	}
	span := t[len(t)-1] - t[0]
	least := span / float64(len(t)-1)
	if !(span > 0) {
		return Exponentials{}, errors.New("times must rise")
	}
	best := Exponentials{RSS: math.Inf(1)}
	for _, edge := range [][2]float64{{least, span}, {least, span / 4}, {4 * least, 3 * span}, {span / 30, span / 2}} {
		start, lower, upper := make([]float64, k), make([]float64, k), make([]float64, k)
		for i := range start {
			f := (float64(i) + 0.5) / float64(k)
			start[i] = math.Log(edge[0]) + f*math.Log(edge[1]/edge[0])
			lower[i], upper[i] = math.Log(least/100), math.Log(100*span)
		}
		fit, err := Solve(Problem{Start: start, Lower: lower, Upper: upper, M: len(t), Most: 200,
			Resid: func(p, r []float64) { project(t, y, p, constant, r) }})
		if err == nil && fit.RSS < best.RSS {
			best = describeExponentials(t, y, fit.P, constant)
		}
	}
	if best.Tau == nil {
		return best, errors.New("no sum of exponentials fits")
	}
	return best, nil
}

// project solves for the amplitudes at given ln tau and fills the residuals.
func project(t, y, lnTau []float64, constant bool, r []float64) []float64 {
	p := len(lnTau)
	if constant {
		p++
	}
	a, b := make([]float64, len(t)*p), append([]float64(nil), y...)
	for i, x := range t {
		for k, l := range lnTau {
			a[i*p+k] = math.Exp(-x / math.Exp(l))
		}
		if constant {
			a[i*p+p-1] = 1
		}
	}
	keep := append([]float64(nil), a...)
	d := decompose(a, b, len(t), p)
	amp := d.back(d.q)
	for i := range t {
		m := 0.0
		for k := range p {
			m += keep[i*p+k] * amp[k]
		}
		r[i] = m - y[i]
	}
	return amp
}

// describeExponentials sorts by tau, polishes all parameters together and works out their
// covariance.
func describeExponentials(t, y, lnTau []float64, constant bool) Exponentials {
	l := append([]float64(nil), lnTau...)
	slices.Sort(l)
	k, r := len(l), make([]float64, len(t))
	amp := project(t, y, l, constant, r)
	m := exponentialModel{t, y, k}
	fit, err := Solve(Problem{Start: append(append(append([]float64(nil), amp[:k]...), l...), amp[k:]...),
		M: len(t), Resid: m.resid, Jac: m.jac, Most: 50})
	if err != nil {
		return Exponentials{RSS: math.Inf(1)}
	}
	e := Exponentials{Amp: fit.P[:k], RSS: fit.RSS, Cov: fit.Cov}
	for _, lt := range fit.P[k : 2*k] {
		e.Tau = append(e.Tau, math.Exp(lt))
	}
	if constant {
		e.Const = fit.P[2*k]
	}
	return e
}

// exponentialModel is the full problem in Amp, ln Tau and perhaps Const.
type exponentialModel struct {
	t, y []float64
	k    int
}

func (m exponentialModel) resid(p, r []float64) {
	for i, x := range m.t {
		r[i] = -m.y[i]
		for j := range m.k {
			r[i] += p[j] * math.Exp(-x/math.Exp(p[m.k+j]))
		}
		if len(p) > 2*m.k {
			r[i] += p[2*m.k]
		}
	}
}

func (m exponentialModel) jac(p []float64, jac [][]float64) {
	for i, x := range m.t {
		for j := range m.k {
			z := x / math.Exp(p[m.k+j])
			jac[i][j], jac[i][m.k+j] = math.Exp(-z), p[j]*z*math.Exp(-z)
		}
		if len(p) > 2*m.k {
			jac[i][2*m.k] = 1
		}
	}
}
