package path

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// cost is the sum of squares, data and prior.
func (p *problem) cost(theta *[params]float64) float64 {
	sum, m := 0.0, newModel(theta, p.air.now)
	for i := range p.rows {
		e := (p.rows[i].y - m.value(&p.rows[i])) / p.noise
		sum += e * e * p.rows[i].weight()
	}
	for a := range theta {
		for b := range theta {
			sum += (theta[a] - p.mean[a]) * p.hold[a][b] * (theta[b] - p.mean[b])
		}
	}
	return sum
}

// solve runs the Levenberg-Marquardt method and returns the last Hessian.
func (p *problem) solve(theta *[params]float64, steps int) *mat.SymDense {
	damp, now := 1e-2, p.cost(theta)
	var h *mat.SymDense
	for range steps {
		var g *mat.VecDense
		h, g = p.normal(theta)
		moved := false
		for range 6 {
			try, ok := p.step(theta, h, g, damp)
			if c := p.cost(&try); ok && c < now {
				moved = now-c > 1e-6*now
				*theta, now, damp = try, c, damp/4
				break
			}
			damp *= 6
		}
		if !moved {
			break
		}
	}
	h, _ = p.normal(theta)
	return h
}

func (p *problem) normal(theta *[params]float64) (*mat.SymDense, *mat.VecDense) {
	var hh [params][params]float64
	var gg, grad [params]float64
	m := newModel(theta, p.air.now)
	for i := range p.rows {
		e, w := p.rows[i].y-m.at(&p.rows[i], &grad), p.rows[i].weight()/(p.noise*p.noise)
		for a := range grad {
			ga := grad[a] * w
			gg[a] += ga * e
			for b := a; b < params; b++ {
				hh[a][b] += ga * grad[b]
			}
		}
	}
	h, g := mat.NewSymDense(params, nil), mat.NewVecDense(params, nil)
	for a := range hh {
		for b := range theta {
			gg[a] += p.hold[a][b] * (p.mean[b] - theta[b])
		}
		g.SetVec(a, gg[a])
		for b := a; b < params; b++ {
			h.SetSym(a, b, hh[a][b]+p.hold[a][b])
		}
	}
	return h, g
}

func (p *problem) step(theta *[params]float64, h *mat.SymDense, g *mat.VecDense, damp float64) ([params]float64, bool) {
	d := mat.NewSymDense(params, nil)
	d.CopySym(h)
	for a := range params {
		d.SetSym(a, a, h.At(a, a)*(1+damp))
	}
	var c mat.Cholesky
	try := *theta
	if !c.Factorize(d) {
		return try, false
	}
	var x mat.VecDense
	if c.SolveVecTo(&x, g) != nil {
		return try, false
	}
	for a := range try {
		move := x.AtVec(a)
		if a < 2*Stages {
			move = math.Min(math.Max(move, -1), 1)
		}
		try[a] += move
	}
	return try, true
}
