package proof

import (
	"math"
	"math/rand/v2"
)

// Nodes is how many heat nodes a machine has: die, interface side of the spreader, block,
// far side, fins.
const Nodes = 5

// Machine is one random computer.
type Machine struct {
	R, C [Nodes]float64 // K/W from node k on, J/K at node k

	PL1, PL2, Tau float64 // W, W, s
	LoopDelay     float64 // s between the budget's end and the fall of power
	TLimit        float64 // degC, where the hardware holds back

	IdleW, DynW      float64 // W: idle, and dynamic at the clock ceiling and full load
	FMin, FMax       float64 // MHz
	LeakW, LeakScale float64 // W at 60 degC, K for a factor e

	Fan                 bool
	FanLow, FanHigh     float64 // rpm
	FanFrom, FanTo      float64 // degC, die, between which it speeds up
	FanLag, FanExponent float64 // s; far conductance goes with rpm^exponent
	FanHysteresis       float64 // K

	OtherW float64 // W, a second source on the block, unmeasured

	Meter     float64 // gain of the power meter
	DieOffset float64 // K
	DieStep   float64 // K, resolution
	Renewal   float64 // s between renewals of the die sensor, 0: every sample
	DieNoise  float64 // K
	RefOffset float64 // K, of the ambient probe
	HasRef    bool
	HasFan    bool // the fan's speed is recorded
}

func logUniform(r *rand.Rand, lo, hi float64) float64 {
	return lo * math.Exp(r.Float64()*math.Log(hi/lo))
}

func uniform(r *rand.Rand, lo, hi float64) float64 { return lo + r.Float64()*(hi-lo) }

func chance(r *rand.Rand, p float64) bool { return r.Float64() < p }

// Draw draws a machine. Its power limits, path and clock ceiling fit together loosely, so
// that each of the bounds is met in some machines.
func Draw(r *rand.Rand) Machine {
	m := Machine{PL1: logUniform(r, 12, 65), Tau: logUniform(r, 6, 56), LoopDelay: uniform(r, 0.02, 0.2),
		TLimit: uniform(r, 88, 105), IdleW: uniform(r, 1.5, 5), FMin: 800, FMax: uniform(r, 3000, 5400),
		LeakScale: uniform(r, 28, 60), Meter: 1 + 0.02*r.NormFloat64(), DieOffset: 0.5 * r.NormFloat64(),
		DieNoise: uniform(r, 0.1, 0.4), RefOffset: 0.3 * r.NormFloat64(), HasRef: chance(r, 0.75), HasFan: chance(r, 0.5)}
	m.PL2 = m.PL1 * uniform(r, 1.25, 2.4)
	m.LeakW = m.PL1 * uniform(r, 0.02, 0.12)
	m.DynW = m.PL2 * uniform(r, 1.1, 1.8)
	if chance(r, 0.25) { // the clock ceiling holds the burst
		m.DynW = m.PL1 + (m.PL2-m.PL1)*uniform(r, 0.35, 0.85) - m.LeakW
	}
	if chance(r, 0.12) { // nothing but the clock ever holds it
		m.DynW = m.PL1 * uniform(r, 0.5, 0.85)
	}
	m.drawPath(r)
	if m.Fan = chance(r, 0.6); m.Fan {
		m.FanLow, m.FanHigh = uniform(r, 900, 1800), uniform(r, 2600, 5500)
		m.FanFrom, m.FanTo = uniform(r, 40, 55), uniform(r, 70, 95)
		m.FanLag, m.FanExponent, m.FanHysteresis = uniform(r, 3, 15), uniform(r, 0.5, 0.8), uniform(r, 1, 4)
	}
	if chance(r, 0.3) {
		m.OtherW = m.PL1 * uniform(r, 0.02, 0.08)
	}
	m.DieStep = []float64{1, 1, 0.5, 0.125, 0.01}[r.IntN(5)]
	if chance(r, 0.5) {
		m.Renewal = 1
	}
	return m
}

// drawPath draws a path whose rise at the long-term limit is 18 to 62 K at the fan's
// lowest speed.
func (m *Machine) drawPath(r *rand.Rand) {
	total := uniform(r, 18, 62) / m.PL1
	share := [Nodes]float64{logUniform(r, 0.04, 0.15), logUniform(r, 0.08, 0.4), logUniform(r, 0.03, 0.15), logUniform(r, 0.15, 0.6), logUniform(r, 0.1, 0.5)}
	tau := [Nodes]float64{logUniform(r, 0.02, 0.12), logUniform(r, 0.8, 5), logUniform(r, 2, 12), logUniform(r, 20, 70), logUniform(r, 70, 220)}
	s := 0.0
	for _, v := range share {
		s += v
	}
	for k := range m.R {
		m.R[k] = total * share[k] / s
		m.C[k] = tau[k] / m.R[k]
	}
}

// rpm is the speed that the fan goes to at a die temperature.
func (m *Machine) rpm(die float64) float64 {
	f := (die - m.FanFrom) / (m.FanTo - m.FanFrom)
	return m.FanLow + min(max(f, 0), 1)*(m.FanHigh-m.FanLow)
}

// fins is the last resistance at a fan speed: R[4] holds at the lowest speed; 0.4 of it,
// the fins' own, does not depend on air.
func (m *Machine) fins(rpm float64) float64 {
	if !m.Fan {
		return m.R[Nodes-1]
	}
	return m.R[Nodes-1] * (0.4 + 0.6*math.Pow(m.FanLow/rpm, m.FanExponent))
}

// Steady is the die temperature that a constant package power (true watts) settles at in
// a room, degC.
func (m *Machine) Steady(p, room float64) float64 {
	fixed := m.R[0]*p + m.R[1]*p + (m.R[2]+m.R[3])*(p+m.OtherW)
	lo, hi := room, room+1e4
	for range 80 {
		if mid := (lo + hi) / 2; room+fixed+m.fins(m.rpm(mid))*(p+m.OtherW) > mid {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// PowerAt is the package power (true watts) that settles at a die temperature.
func (m *Machine) PowerAt(die, room float64) float64 {
	lo, hi := 0.0, 2000.0
	for range 60 {
		if mid := (lo + hi) / 2; m.Steady(mid, room) < die {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}
