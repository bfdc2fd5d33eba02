// Package path fits the way of the heat from the die to the reference: a sum of
// first-order stages driven by the measured power, whatever its course, with
// heating and cooling in one fit.
//
// It takes samples and gives a posterior over stages; it knows nothing of limits or
// of what the numbers are used for.
package path

import (
	"math"

	"soakline/analysis/series"
)

// The bank's grid of time constants, s. Below 0.05 s nothing is in data at 10 Hz;
// beyond 3000 s a stage is drift.
const (
	gridLow, gridHigh = 0.05, 3000.0
	gridNodes         = 56
)

func gridTau(i float64) float64 {
	return gridLow * math.Pow(gridHigh/gridLow, i/(gridNodes-1))
}

func gridIndex(lnTau float64) float64 {
	return (lnTau - math.Log(gridLow)) / math.Log(gridHigh/gridLow) * (gridNodes - 1)
}

// row is one equation of the fit: the mean die temperature over a stretch and the mean
// response of every grid stage of 1 K/W to the power so far.
type row struct {
	at, dt float64
	y      float64 // K above the measured reference, or degC where none is measured
	x      [gridNodes]float64
	since  float64 // s since the first sample
	fan    float64 // rpm, NaN where not recorded
	lagged float64 // degC, the die as a fan that follows it has it
	z      float64 // state of the air
}

// bank is the row of first-order stages dx/dt = (P - x)/tau, exact for a power that is
// constant within a sample.
type bank struct {
	tau, keep, x [gridNodes]float64
	dt           float64
}

func newBank(power float64) *bank {
	b := &bank{dt: -1}
	for j := range b.x {
		b.tau[j], b.x[j] = gridTau(float64(j)), power
	}
	return b
}

func (b *bank) step(power, dt float64) {
	if math.Abs(dt-b.dt) > 1e-9 {
		b.dt = dt
		for j := range b.keep {
			b.keep[j] = -math.Expm1(-dt / b.tau[j])
		}
	}
	for j := range b.x {
		b.x[j] += b.keep[j] * (power - b.x[j])
	}
}

// gather averages the bank and the die over one stretch.
type gather struct {
	row
	weight, blown float64 // s with a die temperature, with a fan speed
}

func (g *gather) add(die, dt float64, x *[gridNodes]float64) {
	g.weight += dt
	g.y += die * dt
	for j := range g.x {
		g.x[j] += x[j] * dt
	}
}

// close gives the row that ends at t seconds; false where too little of it was known.
func (g *gather) close(t, t0 float64) (row, bool) {
	if g.weight <= 0.3*g.dt {
		return row{}, false
	}
	r := g.row
	r.y /= g.weight
	for j := range r.x {
		r.x[j] /= g.weight
	}
	r.fan /= g.blown
	r.at, r.since = t, t-r.dt/2-t0
	return r, true
}

// rows runs the bank over all samples and averages it and the die temperature over
// stretches: fine after edges of power, where the fast stages show, coarse elsewhere.
// The bank starts in equilibrium with the first power; what this assumption gets wrong
// dies out as exponentials, which the fit allows for.
//
// Setting a sensor that renews once a second beside the bank of half a second ago was
// tried on random machines: it made forecast and K/W no better, so it was left out.
func rows(s []series.Sample, th Thresholds, useRef bool) ([]row, Now) {
	if len(s) < 2 {
		return nil, Now{}
	}
	p := startPower(s)
	b, g := newBank(p), gather{}
	t0 := s[0].Start()
	coarse := math.Max(1, (s[len(s)-1].At-t0)/th.Rows)
	var out []row
	slow, sinceEdge, lagged := p, 0.0, math.NaN()
	for i := range s {
		q := &s[i]
		if series.Known(q.Power) {
			p = q.Power
		}
		if math.Abs(p-slow) > th.Edge*math.Max(slow, p) && sinceEdge > 2 {
			sinceEdge = 0
		}
		slow += (p - slow) * -math.Expm1(-q.Dt/1.0)
		sinceEdge += q.Dt
		b.step(p, q.Dt)
		die := q.Die
		switch {
		case !series.Known(die):
		case math.IsNaN(lagged):
			lagged = die
		default:
			lagged += (die - lagged) * -math.Expm1(-q.Dt/th.FanLagS)
		}
		if series.Known(q.Fan) {
			g.fan, g.blown = g.fan+q.Fan*q.Dt, g.blown+q.Dt
		}
		if useRef {
			die -= q.Ambient
		}
		if series.Known(die) && q.Dt > 0 {
			g.add(die, q.Dt, &b.x)
		}
		g.dt += q.Dt
		if g.dt >= math.Min(math.Max(th.Fine, sinceEdge/12), coarse)-1e-9 {
			if r, ok := g.close(q.At, t0); ok {
				r.lagged = lagged
				out = append(out, r)
			}
			g = gather{}
		}
	}
	return out, Now{b.x}
}

// startPower is the mean power of the first second.
func startPower(s []series.Sample) float64 {
	p := series.Mean(series.Within(s, s[0].At, s[0].At+1), series.PowerOf)
	if series.Known(p) {
		return p
	}
	for i := range s {
		if series.Known(s[i].Power) {
			return s[i].Power
		}
	}
	return 0
}
