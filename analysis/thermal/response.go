package thermal

import "math"

// Response follows the temperature over the reference under piecewise constant power,
// exactly, one running average a term: dx/dt = (P - x)/tau, rise = sum R x.
type Response struct {
	Foster
	x []float64
}

// NewResponse starts at rest under p watts.
func (f Foster) NewResponse(p float64) *Response {
	r := &Response{Foster: f, x: make([]float64, len(f.R))}
	for i := range r.x {
		r.x[i] = p
	}
	return r
}

// Step holds p watts for dt seconds and gives the rise at its end and its mean over the
// step, K.
func (r *Response) Step(p, dt float64) (end, mean float64) {
	for i, tau := range r.Tau {
		decay := math.Expm1(-dt / tau)
		gap := p - r.x[i]
		m := p
		if dt > 0 {
			m = p + gap*decay*tau/dt
		}
		r.x[i] -= gap * decay
		end += r.R[i] * r.x[i]
		mean += r.R[i] * m
	}
	return end, mean
}

// Bank is a set of running averages of power with log-spaced time constants: with
// non-negative weights it is the response of any passive path to any course of power.
type Bank struct {
	Tau []float64
	X   []float64 // W, at the last sample
	dt  float64
	k   []float64
}

// NewBank spaces n time constants from first to last seconds and starts at rest under p.
func NewBank(first, last float64, n int, p float64) *Bank {
	b := &Bank{Tau: make([]float64, n), X: make([]float64, n), k: make([]float64, n)}
	for i := range b.Tau {
		b.Tau[i] = first * math.Pow(last/first, float64(i)/float64(max(n-1, 1)))
		b.X[i] = p
	}
	return b
}

// Push takes the mean power of the last dt seconds.
func (b *Bank) Push(p, dt float64) {
	if !(dt > 0) || math.IsNaN(p) {
		return
	}
	if dt != b.dt {
		b.dt = dt
		for i, tau := range b.Tau {
			b.k[i] = -math.Expm1(-dt / tau)
		}
	}
	for i := range b.X {
		b.X[i] += b.k[i] * (p - b.X[i])
	}
}
