package rig

import (
	"fmt"
	"math"
)

// Truth is what a perfect analysis would find for the selected setup, at the room's mean
// temperature and the long-term limit where no other power is named.
type Truth struct {
	Setup    string
	AmbientC float64
	Limits   Limits
	// Ladder at the plateau: resistances in K/W, capacities in J/K, from the die outwards
	// (die, spreader, block, far side).
	R, C []float64
	// NearKPerW is contact and spreader; FarKPerW is block and far side; RthKPerW their sum.
	NearKPerW, FarKPerW, RthKPerW float64
	IdleW                         float64 // package power at rest
	BurstS                        float64 // length of a burst from rest that heat does not cut
	PlateauW, SteadyC             float64 // long-term limit and the die temperature that it ends at
}

// steadyState is the end of a constant power.
type steadyState struct {
	dieC  float64
	nodes [4]float64
	farR  float64 // K/W
	rpm   float64
}

// steady is where p watts end in a room of ambientC. The fan's speed and the far side's
// conductance follow the temperatures, so that both are found by repetition.
func (s Setup) steady(ambientC, p float64) steadyState {
	c := s.Cooling
	st := steadyState{farR: 1, rpm: fanLowRPM}
	for range 200 {
		rise := p * st.farR
		far := c.Far.resistance(st.rpm, rise)
		st.farR += 0.5 * (far - st.farR)
		st.nodes[nodeFar] = ambientC + p*st.farR
		st.nodes[nodeBlock] = st.nodes[nodeFar] + p*c.BlockR
		st.nodes[nodeSpreader] = st.nodes[nodeBlock] + p*c.SpreadR
		st.nodes[nodeDie] = st.nodes[nodeSpreader] + p*c.ContactR
		st.dieC = st.nodes[nodeDie]
		st.rpm += 0.5 * (fanCurve(st.dieC) - st.rpm)
	}
	return st
}

// Truth is that of the selected setup.
func (s *Source) Truth() Truth {
	setup, cfg := s.Selected(), s.cfg
	p, c := cfg.Limits.LongW, setup.Cooling
	st := setup.steady(cfg.Room.MeanC, p)
	idle := newMachine(cfg, setup, meters{}).power
	t := Truth{
		Setup: setup.Name, AmbientC: cfg.Room.MeanC, Limits: cfg.Limits, IdleW: idle, PlateauW: p, SteadyC: st.dieC,
		R:         []float64{c.ContactR, c.SpreadR, c.BlockR, st.farR},
		C:         []float64{c.DieC, c.SpreaderC, c.BlockC, c.FarC},
		NearKPerW: c.ContactR + c.SpreadR, FarKPerW: c.BlockR + st.farR,
	}
	t.RthKPerW = t.NearKPerW + t.FarKPerW
	t.BurstS = cfg.Limits.WindowS * math.Log((cfg.Limits.ShortW-idle)/(cfg.Limits.ShortW-p))
	return t
}

// SteadyC is the die temperature that a constant package power of p watts ends at.
func (s *Source) SteadyC(p float64) float64 {
	return s.Selected().steady(s.cfg.Room.MeanC, p).dieC
}

// PowerAt is the constant package power that ends at a die temperature of limitC, W.
func (s *Source) PowerAt(limitC float64) float64 {
	setup := s.Selected()
	low, high := 0.0, 1000.0
	for range 60 {
		mid := (low + high) / 2
		if setup.steady(s.cfg.Room.MeanC, mid).dieC < limitC {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// State is the machine as it truly is, without its sensors.
type State struct {
	TimeS    float64 // since the start from rest
	NodesC   [4]float64
	AmbientC float64
	PowerW   float64
	AverageW float64 // the limiter's running average
	ClockMHz float64
	FanRPM   float64 // NaN without a fan
	HeldBy   HeldBy
}

// State is that at the last step taken; an error where nothing was read yet.
func (s *Source) State() (State, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	m := s.machine
	if m == nil {
		return State{}, fmt.Errorf("rig: nothing was read yet")
	}
	st := State{TimeS: float64(m.steps) * m.dt, AmbientC: m.roomC(), PowerW: m.power,
		AverageW: m.limit.average, ClockMHz: m.clock, FanRPM: math.NaN(), HeldBy: m.held}
	copy(st.NodesC[:], m.ladder.t)
	if m.hasFan() {
		st.FanRPM = m.fan.rpm
	}
	return st, nil
}
