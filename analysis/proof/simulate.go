package proof

import (
	"math"

	"soakline/analysis"
)

// step is the simulation's own, s.
const step = 0.01

// state is a machine at one instant.
type state struct {
	m     *Machine
	temp  [Nodes]float64 // K over the room
	room  float64
	rpm   float64
	aim   float64 // rpm that the fan goes to
	avg   float64 // W, the limiter's average
	held  float64 // s that the budget has been used up; < 0: not
	trim  float64 // 0..1, what the thermal limit leaves of the dynamic power
	power float64 // W
	clock float64 // MHz
	kind  analysis.Kind
}

func newState(m *Machine, room float64) *state {
	s := &state{m: m, room: room, rpm: m.FanLow, aim: m.FanLow, trim: 1, held: -1}
	leak := m.LeakW * math.Exp((room+5-60)/m.LeakScale)
	s.power, s.avg = m.IdleW+leak, m.IdleW+leak
	flow := s.power
	for k := Nodes - 1; k >= 0; k-- { // settled at idle
		r := m.R[k]
		if k == Nodes-1 {
			r = m.fins(s.rpm)
		}
		through := flow
		if k >= 2 {
			through += m.OtherW
		}
		above := 0.0
		if k+1 < Nodes {
			above = s.temp[k+1]
		}
		s.temp[k] = above + through*r
	}
	return s
}

func (s *state) die() float64 { return s.room + s.temp[0] }

// next advances by one step under a demand.
func (s *state) next(demand float64) {
	s.limit(demand)
	s.heat()
	s.blow()
}

// limit chooses the clock: the least that any bound allows.
func (s *state) limit(demand float64) {
	m := s.m
	base := m.IdleW + m.LeakW*math.Exp((s.die()-60)/m.LeakScale)
	cap := m.PL2
	if s.held >= m.LoopDelay {
		cap = m.PL1
	}
	full := m.DynW * demand
	want := base + full
	switch hot := s.die() - m.TLimit; {
	case hot > -0.5:
		s.trim = max(s.trim-step*(0.02+0.15*max(hot, 0)), 0.05)
	default:
		s.trim = min(s.trim+step*0.02, 1)
	}
	s.kind = analysis.Clock
	p := want
	if p > cap {
		p, s.kind = cap, analysis.PowerShort
		if cap == m.PL1 {
			s.kind = analysis.PowerLong
		}
	}
	if hot := base + s.trim*full; hot < p {
		p, s.kind = hot, analysis.Thermal
	}
	s.clock = m.FMin
	if demand > 0.05 {
		s.clock = max(m.FMax*math.Pow(max(p-base, 0)/full, 1/2.2), m.FMin)
	} else {
		s.kind = analysis.Idle
	}
	s.power = max(p, base)
	s.avg += step / m.Tau * (s.power - s.avg)
	// Once used up the budget is held: a little room is needed before it bursts again.
	switch {
	case s.avg >= m.PL1*0.9995 && s.held < 0:
		s.held = 0
	case s.held >= 0 && s.avg < m.PL1*0.985:
		s.held = -1
	case s.held >= 0:
		s.held += step
	}
}

func (s *state) heat() {
	m := s.m
	var flow [Nodes]float64
	for k := range flow {
		above, r := 0.0, m.R[k]
		if k+1 < Nodes {
			above = s.temp[k+1]
		} else {
			r = m.fins(s.rpm)
		}
		flow[k] = (s.temp[k] - above) / r
	}
	for k := range flow {
		in := s.power
		if k > 0 {
			in = flow[k-1]
		}
		if k == 2 {
			in += m.OtherW
		}
		s.temp[k] += step / m.C[k] * (in - flow[k])
	}
}

func (s *state) blow() {
	if want := s.m.rpm(s.die()); want > s.aim || s.m.rpm(s.die()+s.m.FanHysteresis) < s.aim {
		s.aim = want
	}
	s.rpm += step / max(s.m.FanLag, step) * (s.aim - s.rpm)
}
