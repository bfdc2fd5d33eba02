package analysis

import (
	"math"

	"soakline/analysis/path"
	"soakline/analysis/series"
	"soakline/analysis/window"
)

const burstCaution = "A longer window heats regulators and board as well as the die, and those are not in this answer. The maker's limits and local rules come first; raise in small steps and stay with the machine."

// burstWindow answers for a job of the asked length: is it carried now, by which time
// constant would it be, and how hot does the die get from rest.
func (a *answer) burstWindow(r *Result) *BurstWindow {
	job := a.o.options.JobS
	if !(job > 0) {
		return nil
	}
	u := Unknown()
	w := &BurstWindow{JobS: Number(job), BurstS: u, NeededTimeConstant: u, PeakC: u, PeakLowC: u, PeakHighC: u, Caution: burstCaution}
	b := window.Budget{Rest: float64(r.Now.RestW), Long: known(r.PowerStep.LongW, r.PowerStep.StatedLongW), Short: known(r.PowerStep.ShortW, r.PowerStep.StatedShortW),
		Tau: known(r.PowerStep.TimeConstantS, r.PowerStep.StatedTimeConstantS)}
	switch {
	case math.IsNaN(b.Short) || math.IsNaN(b.Long):
		w.Why = "no burst was seen and the limits are not stated"
		return w
	case !(b.Short > b.Long):
		w.Why = "the short-term power is no higher than the long-term one"
		return w
	case !(b.Rest < b.Long):
		w.Why = "the power of rest is not known"
		return w
	}
	if needed := b.Needed(job); series.Known(needed) {
		w.NeededTimeConstant = Number(needed)
	}
	if b.Tau > 0 {
		w.BurstS = Number(b.Burst())
		covered := float64(w.BurstS) >= job
		w.CoveredNow = &covered
	}
	if p := r.PowerStep; p.ShortIsALimit != nil && !*p.ShortIsALimit {
		w.Why = "the burst was not held by the short-term limit: its power is that of this load"
	}
	a.peak(r, w, b, job)
	return w
}

// peak is the highest temperature by the fitted path, from rest.
func (a *answer) peak(r *Result, w *BurstWindow, b window.Budget, job float64) {
	f := &a.o.kept.fit
	if a.o.kept.why != "" || !r.ThermalPath.ReferenceC.Known() || len(f.R) == 0 || f.Rows == 0 {
		w.Why = joined(w.Why, "how hot it gets is not known: "+r.ThermalPath.Why)
		return
	}
	of := func(p *path.Path) float64 { return b.Peak(p.R[:], p.Tau[:], job) }
	rise := of(&f.Path)
	low, high := f.Interval(of)
	floor := normal90 * a.o.th.Steady.FloorK
	base := float64(r.ThermalPath.ReferenceC)
	if f.Measured {
		base += f.Offset
	}
	w.PeakC = Number(base + rise)
	w.PeakLowC, w.PeakHighC = Number(base+rise-math.Hypot(rise-low, floor)), Number(base+rise+math.Hypot(high-rise, floor))
	over := float64(w.PeakHighC) > float64(r.Headroom.LimitC)
	w.OverLimit = &over
}

func known(a, b Number) float64 {
	if a.Known() {
		return float64(a)
	}
	return float64(b)
}

func joined(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// meanPower is that of the samples in from..to.
func (a *answer) meanPower(from, to float64) float64 {
	return series.Mean(series.Within(a.s, from, to), series.PowerOf)
}
