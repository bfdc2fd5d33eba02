package analysis

import (
	"math"

	"soakline/analysis/series"
)

// now describes the last two seconds, or less where the machine has just begun or ended
// to work or another limit has taken over: a mean over both would be true of neither.
func (a *answer) now(p PowerStep) Now {
	n := Now{PowerW: Unknown(), DieC: Unknown(), ClockMHz: Unknown(), BurstLeftS: Unknown(), RestW: Number(a.restW()), DieTrendK: Unknown(), FanStoppedS: Unknown()}
	if len(a.s) == 0 {
		return n
	}
	end, from := a.s[len(a.s)-1].At, math.Inf(-1)
	if k := len(a.spans); k > 0 {
		from = math.Min(a.spans[k-1].From, end-0.3)
	}
	last := series.Within(a.s, math.Max(end-2, from), end)
	n.PowerW = Number(series.Mean(last, series.PowerOf))
	n.DieC = Number(series.Mean(last, series.DieOf))
	n.ClockMHz = Number(series.Mean(last, series.ClockOf))
	n.DieTrendK = Number(series.Mean(series.Within(a.s, end-3, end), series.DieOf) - series.Mean(series.Within(a.s, end-13, end-10), series.DieOf))
	n.FanStoppedS = a.fanStopped()
	n.BurstLeftS = a.burstLeft(float64(n.PowerW), p)
	return n
}

// burstLeft is tau ln((P - A)/(P - PL1)) with the running average A of the measured
// power, from the fitted time constant and limit or else the stated ones.
func (a *answer) burstLeft(power float64, p PowerStep) Number {
	tau, long := float64(p.TimeConstantS), a.limits.Long
	if !series.Known(tau) {
		tau = a.stated.Window
	}
	if !series.Known(long) {
		long = a.stated.Long
	}
	if !(tau > 0) || !(power > (1+a.o.th.Step.Excess)*long) {
		return Unknown()
	}
	average := math.NaN()
	for i := range a.s {
		q := a.s[i].Power
		switch {
		case !series.Known(q):
		case math.IsNaN(average):
			average = q
		default:
			average += (q - average) * -math.Expm1(-a.s[i].Dt/tau)
		}
	}
	if !(average < long) {
		return Unknown()
	}
	return Number(tau * math.Log((power-average)/(power-long)))
}

// restW is the power of rest: of the rest that was told from work, else the lowest second.
func (a *answer) restW() float64 {
	if series.Known(a.load.RestW) {
		return a.load.RestW
	}
	low := math.NaN()
	for _, b := range series.Blocks(a.s, 0, min(len(a.s), 600), 1) {
		if !(b.Power >= low) {
			low = b.Power
		}
	}
	return low
}
