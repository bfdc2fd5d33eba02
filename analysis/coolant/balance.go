package coolant

import (
	"fmt"
	"math"
)

// Reading is the state of a loop: means over one window in which little changes, each
// with its standard uncertainty.
type Reading struct {
	FlowLMin, FlowU float64 // L/min; a flow meter's class over sqrt(3), at least
	OutC, InC       float64 // degC, after and before the cold plate
	// PairU is the standard uncertainty of the difference of the two sensors, K: after
	// the isothermal offset (pump on, load off) was taken off, some hundredths; sensors
	// out of the box, their class.
	PairU float64
	// OffsetK is out minus in with the pump on and the load off, K.
	OffsetK float64
	// MeterC is the temperature at the flow meter, degC; NaN or 0 takes InC.
	MeterC float64
	// MixtureU is the relative uncertainty of density times heat capacity: 0.002 for
	// water, 0.02 where the fraction of glycol is a guess.
	MixtureU float64
}

// Storage is the heat that the loop itself takes up and loses on the way.
type Storage struct {
	CapacityJK float64 // J/K, liquid and metal of the loop
	SlopeKS    float64 // K/s, of the loop's mean temperature
	LossWK     float64 // W/K, to the room
	LoopC      float64 // degC
	RoomC      float64 // degC
}

// Balance is the heat carried, W, with its standard uncertainty; Why says what keeps it
// from being one.
type Balance struct {
	HeatW, U float64
	Possible bool
	Why      string
}

// Carried works out Q = V rho(T meter) cp(T mean) (T out - T in), the volume taken at the
// meter's own temperature as heat meters do (EN 1434), with
// u(Q)/Q = sqrt((u_V/V)^2 + (u_dT/dT)^2 + u_mix^2) (JCGM 100, 5.1.6).
func (c Coolant) Carried(r Reading) Balance {
	no := func(why string, a ...any) Balance {
		return Balance{HeatW: math.NaN(), U: math.NaN(), Why: fmt.Sprintf(why, a...)}
	}
	if !(r.FlowLMin > 0) {
		return no("no flow is measured: a turbine meter reads 0 below its least flow")
	}
	if math.IsNaN(r.MeterC) || r.MeterC == 0 {
		r.MeterC = r.InC
	}
	rho, _, err := c.Properties(r.MeterC)
	if err != nil {
		return no("%v", err)
	}
	_, cp, err := c.Properties((r.InC + r.OutC) / 2)
	if err != nil {
		return no("%v", err)
	}
	dt := r.OutC - r.InC - r.OffsetK
	b := Balance{HeatW: r.FlowLMin * rho * cp / 60000 * dt}
	perKelvin := r.FlowLMin * rho * cp / 60000
	b.U = math.Hypot(perKelvin*r.PairU, math.Abs(b.HeatW)*math.Hypot(r.FlowU/r.FlowLMin, r.MixtureU))
	if math.Abs(dt) < 5*r.PairU {
		b.Why = fmt.Sprintf("the coolant warms by %.2f K and the two sensors agree to %.2f K only: no balance is possible; zero the pair with the pump on and the load off, or let less coolant flow", dt, r.PairU)
		return b
	}
	b.Possible = true
	return b
}

// Power is the heat that the cold plate must have given off: heat carried, plus what the
// loop stores, plus what it loses to the room. Storage of more than 2 % of it means that
// the window is no steady one.
func (b Balance) Power(s Storage) Balance {
	stored, lost := s.CapacityJK*s.SlopeKS, s.LossWK*(s.LoopC-s.RoomC)
	out := b
	out.HeatW += stored + lost
	out.U = math.Hypot(b.U, math.Hypot(0.2*stored, 0.3*lost)) // capacity and loss are rough figures
	if b.Possible && math.Abs(stored) > 0.02*math.Abs(out.HeatW) {
		out.Possible, out.Why = false, fmt.Sprintf("the loop is still warming: it stores %.1f W of %.1f W", stored, out.HeatW)
	}
	return out
}

// Difference is electrical power less heat carried, with its standard uncertainty, and
// whether it stands out (twice its uncertainty). A surplus of power is heat that leaves
// another way: air, board, regulators; a surplus of heat is a second source in the loop,
// the pump, or a wrong flow.
func (b Balance) Difference(powerW, powerU float64) (diff, u float64, standsOut bool) {
	diff, u = powerW-b.HeatW, math.Hypot(b.U, powerU)
	return diff, u, b.Possible && math.Abs(diff) > 2*u
}

// Delay is the time that the liquid takes through a volume in litres at this flow, s, by
// which the outlet lags the inlet; +Inf without flow.
func Delay(litres, flowLMin float64) float64 {
	if !(flowLMin > 0) {
		return math.Inf(1)
	}
	return litres / flowLMin * 60
}
