package numeric

import (
	"errors"
	"math"
)

// Problem is a nonlinear least-squares problem: the parameters that minimise half the sum
// of the (bounded) squares of the residuals and of the deviations from the priors.
type Problem struct {
	Start []float64
	M     int                              // number of residuals
	Resid func(p, r []float64)             // fills r, len M; a value that is not finite refuses p
	Jac   func(p []float64, j [][]float64) // optional: j[i][k] = dr_i/dp_k; else central differences
	Lower []float64                        // optional
	Upper []float64                        // optional
	Prior []Prior                          // optional, one a parameter
	// SoftL1 is the residual beyond which a deviation counts linearly, 2c^2(sqrt(1+(r/c)^2)-1);
	// 0 is plain squares.
	SoftL1 float64
	Most   int // most iterations; 0 takes 500
	// Damping is the first one, relative to the squared column norms; 0 takes 1e-3. A
	// larger one stays longer near a start that is poor.
	Damping float64
	// Tol ends the search after three steps in a row that each lower the cost by less than
	// this share; 0 goes on to the last digit.
	Tol float64
}

// Prior is a normal prior of one parameter; SD 0 is none.
type Prior struct{ Mean, SD float64 }

// Fit is the answer. Cov holds for residuals of unit variance: multiply by RSS/(M-p)
// where their variance is not known. A parameter held at its bound has no variance.
type Fit struct {
	P          []float64
	Cov        [][]float64
	RSS        float64 // plain sum of squares of the residuals, priors not counted
	Cost       float64 // what was minimised
	Iterations int
	Converged  bool
}

// SE is the standard error of parameter i for residual variance s2.
func (f Fit) SE(i int, s2 float64) float64 { return math.Sqrt(f.Cov[i][i] * s2) }

// ErrStart says that the residuals at the start are not finite or the sizes differ.
var ErrStart = errors.New("the residuals at the starting values are not finite, or sizes differ")

// Solve minimises by Levenberg's and Marquardt's method (Marquardt 1963, J. SIAM 11:431)
// with the damping of Nielsen 1999 (IMM-REP-1999-05), columns scaled by their largest
// norm, each step by an orthogonal decomposition. Parameters at a bound are held while the
// gradient pushes outward.
func Solve(pr Problem) (Fit, error) {
	s, err := newSolver(pr)
	if err != nil {
		return Fit{}, err
	}
	lambda, growth := pr.Damping, 2.0
	if lambda <= 0 {
		lambda = 1e-3
	}
	s.linearise()
	for s.fit.Iterations = 0; s.fit.Iterations < pr.mostIterations(); s.fit.Iterations++ {
		step, gain, ok := s.try(lambda)
		if !ok {
			lambda, growth = lambda*growth, growth*2
			if lambda > 1e30 || step < 1e-15 {
				s.fit.Converged = lambda <= 1e30 || step < 1e-15
				break
			}
			continue
		}
		lambda *= max(1.0/3, 1-math.Pow(2*gain-1, 3))
		growth = 2
		s.linearise()
		if s.idle++; s.reduction >= pr.Tol {
			s.idle = 0
		}
		if s.idle >= 3 || step < 1e-13 || s.reduction < 1e-16 && gain > 0.25 {
			s.fit.Converged = true
			break
		}
	}
	s.fit.Cov = s.t.inverse(s.held)
	return s.fit, nil
}

func (pr Problem) mostIterations() int {
	if pr.Most > 0 {
		return pr.Most
	}
	return 500
}

type solver struct {
	Problem
	fit       Fit
	rows      int // residuals and priors
	r, trial  []float64
	jac       [][]float64
	t         triangle
	d         []float64 // column scale
	held      []bool
	reduction float64 // relative, of the last accepted step
	idle      int     // steps in a row that hardly helped
}

func newSolver(pr Problem) (*solver, error) {
	p := len(pr.Start)
	s := &solver{Problem: pr, rows: pr.M + len(pr.Prior), d: make([]float64, p), held: make([]bool, p)}
	if p == 0 || pr.M < 1 || (pr.Lower != nil && len(pr.Lower) != p) || (pr.Upper != nil && len(pr.Upper) != p) ||
		(pr.Prior != nil && len(pr.Prior) != p) {
		return nil, ErrStart
	}
	s.r, s.trial = make([]float64, pr.M), make([]float64, pr.M)
	s.jac = make([][]float64, pr.M)
	flat := make([]float64, pr.M*p)
	for i := range s.jac {
		s.jac[i] = flat[i*p : (i+1)*p]
	}
	s.fit.P = s.clamp(append([]float64(nil), pr.Start...))
	s.Resid(s.fit.P, s.r)
	if s.fit.Cost = s.cost(s.fit.P, s.r); math.IsNaN(s.fit.Cost) || math.IsInf(s.fit.Cost, 0) {
		return nil, ErrStart
	}
	s.fit.RSS = sumSquares(s.r)
	return s, nil
}

func sumSquares(r []float64) float64 {
	v := 0.0
	for _, x := range r {
		v += x * x
	}
	return v
}

func (s *solver) clamp(p []float64) []float64 {
	for i := range p {
		if s.Lower != nil {
			p[i] = max(p[i], s.Lower[i])
		}
		if s.Upper != nil {
			p[i] = min(p[i], s.Upper[i])
		}
	}
	return p
}

func (s *solver) cost(p, r []float64) float64 {
	v := 0.0
	if c := s.SoftL1; c > 0 {
		for _, x := range r {
			z := x / c
			v += 2 * c * c * z * z / (1 + math.Sqrt(1+z*z)) // = 2c^2 (sqrt(1+z^2) - 1)
		}
	} else {
		v = sumSquares(r)
	}
	for i, q := range s.Prior {
		if q.SD > 0 {
			d := (p[i] - q.Mean) / q.SD
			v += d * d
		}
	}
	return v / 2
}

// linearise decomposes the Jacobian at the present point, weighted for the bounded loss
// (Triggs et al. 2000, Bundle adjustment, section 4.3, as general libraries do).
func (s *solver) linearise() {
	p := len(s.fit.P)
	s.jacobian()
	a, b := make([]float64, s.rows*p), make([]float64, s.rows)
	for i, x := range s.r {
		wr, wj := 1.0, 1.0
		if c := s.SoftL1; c > 0 {
			z := 1 + (x/c)*(x/c)
			wj = math.Pow(z, -0.75)
			wr = 1 / (math.Sqrt(z) * wj)
		}
		b[i] = -x * wr
		for k, v := range s.jac[i] {
			a[i*p+k] = v * wj
		}
	}
	for k, q := range s.Prior {
		if q.SD > 0 {
			i := s.M + k
			a[i*p+k], b[i] = 1/q.SD, -(s.fit.P[k]-q.Mean)/q.SD
		}
	}
	s.hold(a, b)
	for k := range p {
		norm := 0.0
		for i := range s.rows {
			norm += a[i*p+k] * a[i*p+k]
		}
		if s.d[k] = max(s.d[k], math.Sqrt(norm)); s.d[k] == 0 {
			s.d[k] = 1
		}
	}
	s.t = decompose(a, b, s.rows, p)
}

// hold takes parameters out that sit on a bound and would leave through it.
func (s *solver) hold(a, b []float64) {
	p := len(s.fit.P)
	for k := range p {
		g := 0.0 // minus the gradient: the way downhill
		for i := range s.rows {
			g += a[i*p+k] * b[i]
		}
		s.held[k] = s.Lower != nil && s.fit.P[k] <= s.Lower[k] && g < 0 || s.Upper != nil && s.fit.P[k] >= s.Upper[k] && g > 0
		if s.held[k] {
			for i := range s.rows {
				a[i*p+k] = 0
			}
		}
	}
}

func (s *solver) jacobian() {
	if s.Jac != nil {
		s.Jac(s.fit.P, s.jac)
		return
	}
	q := append([]float64(nil), s.fit.P...)
	up, down := make([]float64, s.M), make([]float64, s.M)
	for k, v := range s.fit.P {
		h := 6e-6 * math.Abs(v) // near the cube root of the machine precision
		if h == 0 {
			h = 6e-6
		}
		q[k] = v + h
		hi := q[k]
		s.Resid(q, up)
		q[k] = v - h
		lo := q[k]
		s.Resid(q, down)
		q[k] = v
		for i := range s.M {
			s.jac[i][k] = (up[i] - down[i]) / (hi - lo)
		}
	}
}

// try takes a damped step if it lowers the cost. step is its relative length, gain the
// reduction over that which the linear model promised.
func (s *solver) try(lambda float64) (step, gain float64, ok bool) {
	dx := s.t.damped(lambda, s.d)
	p := append([]float64(nil), s.fit.P...)
	for i := range p {
		p[i] += dx[i]
	}
	s.clamp(p)
	var promised, size, length float64
	for i := 0; i < s.t.p; i++ {
		row := 0.0
		for j := i; j < s.t.p; j++ {
			row += s.t.r[i*s.t.p+j] * (p[j] - s.fit.P[j])
		}
		promised += s.t.q[i]*row - row*row/2
		length = math.Hypot(length, s.d[i]*(p[i]-s.fit.P[i]))
		size = math.Hypot(size, s.d[i]*p[i])
	}
	step = length / (size + 1e-300)
	s.Resid(p, s.trial)
	c := s.cost(p, s.trial)
	if !(c < s.fit.Cost) {
		return step, 0, false
	}
	gain = (s.fit.Cost - c) / max(promised, 1e-300)
	s.reduction = (s.fit.Cost - c) / s.fit.Cost
	s.fit.P, s.fit.Cost, s.fit.RSS = p, c, sumSquares(s.trial)
	s.r, s.trial = s.trial, s.r
	return step, min(gain, 1), true
}
