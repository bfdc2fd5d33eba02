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
}

// Rows runs the bank dx/dt = (P - x)/tau over all samples and averages it and the die
// temperature over stretches: fine after edges of power, where the fast stages show,
// coarse elsewhere. The bank starts in equilibrium with the first power; what this
// assumption gets wrong dies out as exponentials, which the fit allows for. lag is
// the sensor's mean age, s: the temperature at t is set beside the bank at t - lag.
func rows(s []series.Sample, th Thresholds, useRef bool, lag float64) ([]row, Now) {
	if len(s) < 2 {
		return nil, Now{}
	}
	var taus, keep, x [gridNodes]float64
	for j := range taus {
		taus[j] = gridTau(float64(j))
	}
	p := startPower(s)
	for j := range x {
		x[j] = p
	}
	t0 := s[0].Start()
	coarse := math.Max(1, (s[len(s)-1].At-t0)/th.Rows)
	var out []row
	var acc row
	var weight float64
	slow, dtWas, sinceEdge := p, -1.0, 0.0
	delay := newDelay(lag)
	for i := range s {
		q := &s[i]
		if series.Known(q.Power) {
			p = q.Power
		}
		if math.Abs(q.Dt-dtWas) > 1e-9 {
			dtWas = q.Dt
			for j := range keep {
				keep[j] = -math.Expm1(-dtWas / taus[j])
			}
		}
		if math.Abs(p-slow) > th.Edge*math.Max(slow, p) && sinceEdge > 2 {
			sinceEdge = 0
		}
		slow += (p - slow) * -math.Expm1(-q.Dt/1.0)
		for j := range x {
			x[j] += keep[j] * (p - x[j])
		}
		die := q.Die
		if useRef {
			die -= q.Ambient
		}
		sinceEdge += q.Dt
		seen := delay.at(q.At, &x)
		if series.Known(die) && q.Dt > 0 && seen != nil {
			weight += q.Dt
			acc.y += die * q.Dt
			for j := range x {
				acc.x[j] += seen[j] * q.Dt
			}
		}
		acc.dt += q.Dt
		width := math.Min(math.Max(th.Fine, sinceEdge/12), coarse)
		if acc.dt >= width-1e-9 {
			if weight > 0.3*acc.dt {
				acc.y /= weight
				for j := range acc.x {
					acc.x[j] /= weight
				}
				acc.at, acc.since = q.At, q.At-acc.dt/2-t0
				out = append(out, acc)
			}
			acc, weight = row{}, 0
		}
	}
	return out, Now{x}
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

// delay hands the bank back as it stood lag seconds ago.
type delay struct {
	lag   float64
	times []float64
	past  [][gridNodes]float64
}

func newDelay(lag float64) *delay { return &delay{lag: lag} }

func (d *delay) at(t float64, x *[gridNodes]float64) *[gridNodes]float64 {
	if d.lag <= 0 {
		return x
	}
	d.times = append(d.times, t)
	d.past = append(d.past, *x)
	k := 0
	for k+1 < len(d.times) && d.times[k+1] <= t-d.lag {
		k++
	}
	if d.times[k] > t-d.lag+1e-9 {
		return nil
	}
	d.times, d.past = d.times[k:], d.past[k:]
	return &d.past[0]
}
