package rig

import (
	"fmt"
	"time"
)

// Config describes the simulated machine. Default is the one constructor; change fields
// of what it returns.
type Config struct {
	Seed     uint64        // fixes load, meter noise and room
	Step     time.Duration // of the physics; must divide 10 ms
	Plan     Plan
	Limits   Limits
	Chip     Chip
	Room     Room
	Meter    Meter
	Setups   []Setup
	Selected string // name of the setup to start with
}

// Room is the air around the machine: it drifts slowly about a mean.
type Room struct {
	MeanC  float64 // degC
	DriftK float64 // standard deviation of the drift, K
	DriftS float64 // its correlation time, s
}

// Meter is how the sensors spoil what they read.
type Meter struct {
	PowerShare float64 // standard deviation of the power meter's gain noise, 0.01 is 1 %
	PowerS     float64 // its correlation time, s
	DieK       float64 // noise of the junction sensors ahead of rounding to 1 degC, K
	AmbientK   float64 // noise of the room probe ahead of rounding to 0.1 degC, K
	FanRPM     float64 // noise of the fan's tachometer, rpm
}

// Default is the demonstration machine: long-term limit 28 W, short-term 64 W, time
// constant 16 s; 12 s of rest, then 300 s of load and 120 s of cooling in turn.
func Default() Config {
	return Config{
		Seed:   1,
		Step:   time.Millisecond,
		Plan:   Plan{RestS: 12, LoadS: 300, CoolS: 120},
		Limits: Limits{LongW: 28, ShortW: 64, WindowS: 16, ThermalC: 100, ApproachS: 0.05},
		Chip: Chip{
			FloorMHz: 800, CeilingMHz: 4300, FloorV: 0.65, CeilingV: 1.16,
			CapacitanceNF: 11.0, BaseW: 4.7,
			LeakW: 2.5, LeakC: 60, LeakV: 0.9, LeakSpreadK: 40, GatedShare: 0.3,
		},
		Room:     Room{MeanC: 22, DriftK: 0.2, DriftS: 900},
		Meter:    Meter{PowerShare: 0.01, PowerS: 0.2, DieK: 0.25, AmbientK: 0.03, FanRPM: 8},
		Setups:   defaultSetups(),
		Selected: "fan-cooler",
	}
}

func (c *Config) check() error {
	if c.Step <= 0 || (10*time.Millisecond)%c.Step != 0 {
		return fmt.Errorf("rig: step %v does not divide 10 ms", c.Step)
	}
	l := c.Limits
	if !(0 < l.LongW && l.LongW <= l.ShortW) {
		return fmt.Errorf("rig: long-term limit %g W and short-term limit %g W: needed is 0 < long <= short", l.LongW, l.ShortW)
	}
	if !(l.WindowS > 0) || !(l.ApproachS >= c.Step.Seconds()) {
		return fmt.Errorf("rig: window %g s and approach %g s: the window must be positive and the approach at least one step", l.WindowS, l.ApproachS)
	}
	if h := c.Chip; !(0 < h.FloorMHz && h.FloorMHz < h.CeilingMHz && 0 < h.FloorV && h.FloorV <= h.CeilingV) || !(h.LeakV > 0) || !(h.LeakSpreadK > 0) {
		return fmt.Errorf("rig: the chip's clocks or voltages are not positive and rising: %+v", h)
	}
	if c.Plan.RestS < 0 || c.Plan.LoadS < 0 || c.Plan.CoolS < 0 {
		return fmt.Errorf("rig: the plan has a negative time: %+v", c.Plan)
	}
	if !(c.Room.DriftS > 0) || !(c.Meter.PowerS > 0) {
		return fmt.Errorf("rig: correlation times of room (%g s) and power meter (%g s) must be positive", c.Room.DriftS, c.Meter.PowerS)
	}
	for _, s := range c.Setups {
		if _, err := s.Cooling.ladder(1); err != nil {
			return fmt.Errorf("rig: setup %q: %w", s.Name, err)
		}
	}
	return nil
}
