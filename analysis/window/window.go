// Package window owns the question whether a longer burst window would carry a load of a
// given length at the short-term power, and how hot the die would get by its end.
//
// It takes powers, a time constant and a path; it never changes a limit.
package window

import "math"

// Budget is a limiter that holds the running average of power at Long.
type Budget struct {
	Rest, Long, Short float64 // W
	Tau               float64 // s
}

// Burst is how long Short lasts from rest until the average has come from Rest to Long:
// t = tau ln((P2-P0)/(P2-PL1)), from dA/dt = (P-A)/tau. +Inf where Short is no more than Long.
func (b Budget) Burst() float64 { return b.Tau * b.lengths() }

// Needed is the time constant with which a burst lasts job seconds.
func (b Budget) Needed(job float64) float64 { return job / b.lengths() }

// lengths is the burst in time constants.
func (b Budget) lengths() float64 {
	if !(b.Short > b.Long) {
		return math.Inf(1)
	}
	return math.Log((b.Short - b.Rest) / (b.Short - b.Long))
}

// Peak is the highest temperature over the reference, K, of a job at Short from settled
// rest and of Long without end after it: each stage of r K/W and tau s warms as
// r (P0 + (P2-P0)(1 - exp(-t/tau))).
func (b Budget) Peak(r, tau []float64, job float64) float64 {
	end, after := 0.0, 0.0
	for k := range r {
		end += r[k] * (b.Rest - (b.Short-b.Rest)*math.Expm1(-job/tau[k]))
		after += r[k] * b.Long
	}
	return math.Max(end, after)
}
