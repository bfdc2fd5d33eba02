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

// model evaluates rows, one after the other, under one set of parameters.
type model struct {
	theta *[params]float64
	read  [Stages]reader
	res   [Stages]float64
	rate  [nuisance]float64 // 1/s
	now   float64           // the air's state that the slow stage stands for
	slow  [3]blown          // under theta, and with ln tau and the curve moved by tiny
	since float64
}

const tiny = 1e-4

// curveOf keeps the curve above 0, smoothly: air that moves faster never carries less.
func curveOf(x float64) float64 {
	const soft = 0.015
	if x > 20*soft {
		return x
	}
	return soft * math.Log1p(math.Exp(x/soft))
}

// blown is the slow stage's departure from constant conductance, K for 1 K/W. With the
// conductance c of the present state as a multiple,
//
//	dF/dt = (P - c F)/tau,  F = x + departure,  d departure/dt = -(c departure + (c-1) x)/tau
type blown struct{ curve, rate, departure float64 }

func (b *blown) step(z, x, dt float64, first bool) float64 {
	c := math.Exp(b.curve * z)
	end := (1/c - 1) * x
	if first {
		b.departure = end
		return end
	}
	was := b.departure
	b.departure = end + (was-end)*math.Exp(-c*dt*b.rate)
	return b.departure
}

func newModel(theta *[params]float64, now float64) model {
	m := model{theta: theta, now: now, since: -1}
	for k := range Stages {
		m.read[k], m.res[k] = readAt(theta[Stages+k]), math.Exp(theta[k])
	}
	for k := range nuisance {
		m.rate[k] = math.Exp(-theta[2*Stages-nuisance+k])
	}
	tau, curve := theta[2*Stages-1], curveOf(theta[curveAt])
	m.slow = [3]blown{{curve: curve, rate: math.Exp(-tau)}, {curve: curve, rate: math.Exp(-tau - tiny)}, {curve: curveOf(theta[curveAt] + tiny), rate: math.Exp(-tau)}}
	return m
}

// value is the modelled value of the next row.
func (m *model) value(r *row) float64 {
	y := m.theta[offsetAt]
	for k := range Stages {
		x, _ := m.read[k].from(&r.x)
		y += m.res[k] * x
		if k == Stages-1 {
			first, dt := m.since < 0, r.since-m.since
			m.since = r.since
			y += m.res[k] * m.slow[0].step(r.z-m.now, x, dt, first)
		}
	}
	for k := range nuisance {
		y += m.theta[pastAt+k] * m.fading(k, r.since)
	}
	return y
}

// fading is what is left of the past in a stage.
func (m *model) fading(k int, since float64) float64 {
	if x := since * m.rate[k]; x < 20 {
		return math.Exp(-x)
	}
	return 0
}

// at gives the modelled value of the next row and its gradient.
func (m *model) at(r *row, grad *[params]float64) float64 {
	y := m.theta[offsetAt]
	grad[offsetAt] = 1
	for k := range Stages {
		x, slope := m.read[k].from(&r.x)
		y += m.res[k] * x
		grad[k], grad[Stages+k] = m.res[k]*x, m.res[k]*slope
		if k == Stages-1 {
			y += m.blow(r, x, grad)
		}
	}
	for k := range nuisance {
		e := m.fading(k, r.since)
		y += m.theta[pastAt+k] * e
		grad[pastAt+k] = e
	}
	return y
}

// blow adds what the air's state does to the slow stage.
func (m *model) blow(r *row, x float64, grad *[params]float64) float64 {
	first, dt := m.since < 0, r.since-m.since
	m.since = r.since
	const k = Stages - 1
	var d [3]float64
	for i := range m.slow {
		d[i] = m.res[k] * m.slow[i].step(r.z-m.now, x, dt, first)
	}
	grad[k] += d[0]
	grad[Stages+k] += (d[1] - d[0]) / tiny
	grad[curveAt] = (d[2] - d[0]) / tiny
	return d[0]
}
