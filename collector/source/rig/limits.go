package rig

import (
	"fmt"
	"math"

	"soakline/collector/telemetry"
)

// Limits are what holds the chip back, as the maker set it.
type Limits struct {
	LongW, ShortW float64 // long-term (PL1) and short-term (PL2) power limit, W
	WindowS       float64 // time constant tau of the running average, s
	ThermalC      float64 // junction temperature at which the governor holds back, degC
	ApproachS     float64 // time in which the limiter brings the average onto LongW, s
}

func (l Limits) conditions() []telemetry.Setting {
	return []telemetry.Setting{
		{Key: "long-term power limit", Value: fmt.Sprintf("%g W", l.LongW)},
		{Key: "short-term power limit", Value: fmt.Sprintf("%g W", l.ShortW)},
		{Key: "power limit time constant", Value: fmt.Sprintf("%g s", l.WindowS)},
	}
}

// limiter holds an exponentially weighted average A of the package power, time constant
// tau, at or below the long-term limit, and the power itself at or below the short-term
// one. While A is below PL1 a burst may run at PL2; from A = P0 it lasts
// t* = tau ln((P2-P0)/(P2-P1)). The interface (limit, window) is that of the Intel SDM
// vol. 3B, Platform Specific Power Support; that the average is exponential is the usual
// description (Rotem et al. 2012, IEEE Micro 32(2):20).
type limiter struct {
	lim     Limits
	average float64 // A, W
	weight  float64 // 1 - exp(-dt/tau)
}

func newLimiter(lim Limits, dt float64) limiter {
	return limiter{lim: lim, weight: -math.Expm1(-dt / lim.WindowS)}
}

// allowed is the power that may be drawn now, W. Near the end of the budget it comes
// down from PL2 to PL1 within ApproachS instead of chattering between them.
func (l *limiter) allowed() float64 {
	w := l.lim.LongW + (l.lim.LongW-l.average)*l.lim.WindowS/l.lim.ApproachS
	return min(l.lim.ShortW, max(w, 0))
}

func (l *limiter) drawn(p float64) { l.average += l.weight * (p - l.average) }

// governor caps the power so that the junction stays at the thermal limit:
// proportional and integral action, the integral held within the range of the power.
type governor struct {
	limitC, maxW float64
	integral     float64 // W
}

// Gains of the governor, chosen for a damped answer of a path that moves about 1 K/W
// within some tenths of a second (no source; a property of this machine).
const (
	governorWPerK  = 6.0
	governorWPerKS = 60.0
)

func newGovernor(lim Limits) governor {
	return governor{limitC: lim.ThermalC, maxW: lim.ShortW, integral: lim.ShortW}
}

// allowed is the power that may be drawn at this junction temperature, W.
func (g *governor) allowed(dieC float64) float64 {
	return max(0, g.integral+governorWPerK*(g.limitC-dieC))
}

func (g *governor) observe(dt, dieC float64) {
	g.integral = min(max(g.integral+governorWPerKS*dt*(g.limitC-dieC), 0), g.maxW)
}
