package rig

import "fmt"

// ladder is a Cauer thermal ladder: node k holds C[k] J/K to the reference, R[k] K/W
// joins node k to node k+1 and the last R joins the last node to the reference. Heat
// enters node 0.
//
// It is stepped by the trapezoidal rule (Crank and Nicolson 1947, Proc. Camb. Phil.
// Soc. 43:50), which is stable at any step, of second order in it, and keeps the heat
// balance exactly: what is stored is what came in less what went out.
type ladder struct {
	r, c     []float64 // K/W, J/K
	t        []float64 // degC
	diag     []float64 // eliminated diagonal of the step matrix, W/K
	rhs      []float64 // W
	dt       float64   // step that diag stands for, s; 0 when it must be made anew
	released float64   // heat given to the reference since it was made, J
}

// newLadder makes a ladder at 0 degC. R and C need equal length and positive values.
func newLadder(r, c []float64) (*ladder, error) {
	if len(r) == 0 || len(r) != len(c) {
		return nil, fmt.Errorf("thermal ladder: %d resistances and %d capacities, needed are as many of each and at least one", len(r), len(c))
	}
	for k := range r {
		if !(r[k] > 0) || !(c[k] > 0) {
			return nil, fmt.Errorf("thermal ladder: node %d has %g K/W and %g J/K, both must be positive", k+1, r[k], c[k])
		}
	}
	n := len(r)
	l := &ladder{t: make([]float64, n), diag: make([]float64, n), rhs: make([]float64, n)}
	l.r, l.c = append(l.r, r...), append(l.c, c...)
	return l, nil
}

// setLast changes the last resistance, K/W, which must be positive.
func (l *ladder) setLast(r float64) {
	if n := len(l.r) - 1; l.r[n] != r {
		l.r[n], l.dt = r, 0
	}
}

// heatIn is the heat held above the reference temperature ref, J.
func (l *ladder) heatIn(ref float64) float64 {
	sum := 0.0
	for k, c := range l.c {
		sum += c * (l.t[k] - ref)
	}
	return sum
}

// step goes on by dt seconds with p watts into node 0 and the reference at ref degC.
func (l *ladder) step(dt, p, ref float64) {
	if dt != l.dt {
		l.eliminate(dt)
	}
	n := len(l.t)
	into := p // heat that flows into node k from the side of the source, W
	for k := range n {
		next := ref
		if k < n-1 {
			next = l.t[k+1]
		}
		out := (l.t[k] - next) / l.r[k]
		l.rhs[k] = into - out
		if k > 0 {
			l.rhs[k] += l.rhs[k-1] * 0.5 / l.r[k-1] / l.diag[k-1]
		}
		into = out
	}
	change := 0.0
	for k := n - 1; k >= 0; k-- {
		change = (l.rhs[k] + 0.5/l.r[k]*change) / l.diag[k]
		if k == n-1 {
			l.released += dt * (into + 0.5/l.r[k]*change)
		}
		l.t[k] += change
	}
}

// eliminate prepares the forward elimination of the symmetric tridiagonal matrix
// C/dt + G/2 for steps of dt.
func (l *ladder) eliminate(dt float64) {
	for k := range l.c {
		l.diag[k] = l.c[k]/dt + 0.5/l.r[k]
		if k > 0 {
			g := 0.5 / l.r[k-1]
			l.diag[k] += g - g*g/l.diag[k-1]
		}
	}
	l.dt = dt
}
