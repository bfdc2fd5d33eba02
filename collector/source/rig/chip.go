package rig

import "math"

// Chip is the clock-voltage-power model of the processor:
//
//	P = base + u C V(f)^2 f + w P0 exp((T-T0)/Tb) (V/V0)^2
//
// dynamic power after the usual C V^2 f, leakage after Liao, He and Lepak 2005 (IEEE
// TCAD 24:1042) reduced to one exponential of the junction temperature; u is the
// activity, w the share of the chip that is not gated off. V is a straight line in f.
// The numbers are invented for this machine.
type Chip struct {
	FloorMHz, CeilingMHz float64 // lowest clock and highest clock with all cores busy, MHz
	FloorV, CeilingV     float64 // voltage at those, V
	CapacitanceNF        float64 // effective switched capacitance, nF
	BaseW                float64 // what does not follow the clock: memory controller, fabric, W
	LeakW                float64 // leakage at LeakC and LeakV, W
	LeakC, LeakV         float64 // degC, V
	LeakSpreadK          float64 // temperature rise that multiplies leakage by e, K
	GatedShare           float64 // share of the leakage that remains when idle, 0 to 1
}

// Voltage is the supply at a clock, V.
func (c *Chip) Voltage(mhz float64) float64 {
	return c.FloorV + (mhz-c.FloorMHz)*(c.CeilingV-c.FloorV)/(c.CeilingMHz-c.FloorMHz)
}

// Leakage is the leakage at LeakV with the whole chip awake, W.
func (c *Chip) Leakage(dieC float64) float64 {
	return c.LeakW * math.Exp((dieC-c.LeakC)/c.LeakSpreadK)
}

// power is the package power at a clock, for an activity and a leakage at LeakV.
func (c *Chip) power(mhz, activity, leak float64) float64 {
	v := c.Voltage(mhz)
	return c.BaseW + (activity*c.CapacitanceNF*1e-3*mhz+leak/(c.LeakV*c.LeakV))*v*v
}

// clockFor is the clock within the chip's range that draws at most capW, found by
// Newton's method from the clock near; power is convex and rising in the clock, so that
// a few steps are enough.
func (c *Chip) clockFor(capW, near, activity, leak float64) float64 {
	if c.power(c.CeilingMHz, activity, leak) <= capW {
		return c.CeilingMHz
	}
	slopeV := (c.CeilingV - c.FloorV) / (c.CeilingMHz - c.FloorMHz)
	nF, per := c.CapacitanceNF*1e-3*activity, leak/(c.LeakV*c.LeakV)
	f := near
	for range 8 {
		v := c.Voltage(f)
		excess := c.BaseW + (nF*f+per)*v*v - capW
		if math.Abs(excess) < 1e-6 {
			break
		}
		f -= excess / (nF*v*v + 2*(nF*f+per)*v*slopeV)
		f = min(max(f, c.FloorMHz), c.CeilingMHz)
	}
	return f
}
