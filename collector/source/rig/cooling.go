package rig

import "math"

// Cooling is the way of the heat from the junction to the room, and how evenly the
// junction sits on it. Resistances are in K/W, capacities in J/K.
type Cooling struct {
	ContactR, SpreadR, BlockR float64 // die to spreader, spreader to block, block to far side
	DieC, SpreaderC, BlockC   float64
	FarC                      float64 // fins or plate
	Far                       FarSide
	CoreSpread                [Cores]float64 // how far below the hottest junction each core lies, K/W
}

// Cores is how many cores of the machine have a temperature of their own.
const Cores = 4

// FarSide gives heat to the room. Its conductance in W/K is
//
//	Steady + Blown (n/FanRPM)^0.7 + Free (dT/25 K)^0.25
//
// a fixed part (radiation), a forced part that follows the fan speed n (exponent 0.5 to
// 0.8 for forced convection over fins), and free convection, h ~ dT^(1/4) in the laminar
// range (Churchill and Chu 1975, Int. J. Heat Mass Transfer 18:1323).
type FarSide struct {
	Steady, Blown, Free float64 // W/K
	FanRPM              float64 // speed at which Blown is reached, rpm; 0: there is no fan
}

// resistance is the far side's at a fan speed and a rise of the far side over the room.
func (f FarSide) resistance(rpm, rise float64) float64 {
	g := f.Steady
	if f.Blown > 0 {
		g += f.Blown * math.Pow(max(rpm, 0)/f.FanRPM, 0.7)
	}
	if f.Free > 0 {
		g += f.Free * math.Pow(max(rise, 0.1)/25, 0.25)
	}
	return 1 / g
}

func (c Cooling) ladder(farR float64) (*ladder, error) {
	return newLadder([]float64{c.ContactR, c.SpreadR, c.BlockR, farR},
		[]float64{c.DieC, c.SpreaderC, c.BlockC, c.FarC})
}

// Nodes of the ladder.
const (
	nodeDie = iota
	nodeSpreader
	nodeBlock
	nodeFar
)

// fan is the cooler's own loop: it follows a slowly averaged die temperature along a
// straight curve, moves only when the wanted speed has left a dead band, and takes
// seconds to get there.
type fan struct {
	rpm, target float64
	seen        float64 // averaged die temperature, degC
}

// The fan's curve and pace (invented for this machine).
const (
	fanLowC, fanHighC   = 40.0, 80.0 // degC
	fanLowRPM           = 1500.0
	fanHighRPM          = 4500.0
	fanDeadRPM          = 60.0
	fanSeenS, fanSpinS  = 6.0, 3.0 // time constants, s
	fanControlHundredMS = 20       // one look at the temperature each 2 s
)

func fanCurve(dieC float64) float64 {
	share := min(max((dieC-fanLowC)/(fanHighC-fanLowC), 0), 1)
	return fanLowRPM + share*(fanHighRPM-fanLowRPM)
}

// advance goes on by 0.1 s; look says that the loop acts now.
func (f *fan) advance(dieC float64, look bool) {
	f.seen += -math.Expm1(-0.1/fanSeenS) * (dieC - f.seen)
	if want := fanCurve(f.seen); look && math.Abs(want-f.target) > fanDeadRPM {
		f.target = want
	}
	f.rpm += -math.Expm1(-0.1/fanSpinS) * (f.target - f.rpm)
}

func (f *fan) rest(dieC float64) {
	f.seen, f.target = dieC, fanCurve(dieC)
	f.rpm = f.target
}
