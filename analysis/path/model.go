package path

import "math"

// reader reads the bank's response at any time constant, and its slope in ln tau, by a
// parabola through the nearest grid nodes.
type reader struct {
	k    int
	d, s float64
}

func readAt(lnTau float64) reader {
	g := math.Min(math.Max(gridIndex(lnTau), 0), gridNodes-1)
	k := min(max(int(math.Round(g)), 1), gridNodes-2)
	return reader{k: k, d: g - float64(k), s: (gridNodes - 1) / math.Log(gridHigh/gridLow)}
}

func (r reader) from(x *[gridNodes]float64) (value, slope float64) {
	a, b := (x[r.k+1]-x[r.k-1])/2, x[r.k+1]-2*x[r.k]+x[r.k-1]
	return x[r.k] + r.d*a + r.d*r.d*b/2, (a + r.d*b) * r.s
}

// model evaluates rows under one set of parameters.
type model struct {
	theta *[params]float64
	read  [Stages]reader
	res   [Stages]float64
	rate  [nuisance]float64 // 1/s
}

func newModel(theta *[params]float64) model {
	m := model{theta: theta}
	for k := range Stages {
		m.read[k], m.res[k] = readAt(theta[Stages+k]), math.Exp(theta[k])
	}
	for k := range nuisance {
		m.rate[k] = math.Exp(-theta[2*Stages-nuisance+k])
	}
	return m
}

// at gives the modelled value of a row and its gradient.
func (m *model) at(r *row, grad *[params]float64) float64 {
	y := m.theta[2*Stages]
	grad[2*Stages] = 1
	for k := range Stages {
		x, slope := m.read[k].from(&r.x)
		y += m.res[k] * x
		grad[k], grad[Stages+k] = m.res[k]*x, m.res[k]*slope
	}
	for k := range nuisance {
		e := 0.0
		if x := r.since * m.rate[k]; x < 20 {
			e = math.Exp(-x)
		}
		y += m.theta[2*Stages+1+k] * e
		grad[2*Stages+1+k] = e
	}
	return y
}
