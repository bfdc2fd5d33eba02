package text

import "soakline/analysis"

// window is the answer for a job of the asked length.
func (p *printer) window(w *analysis.BurstWindow) {
	if w == nil {
		return
	}
	p.row("burst window", "a job of %s needs a time constant of %s; a burst from rest lasts %s now%s", Value(w.JobS, 1, "s"),
		Value(w.NeededTimeConstant, 1, "s"), Value(w.BurstS, 1, "s"), because(w.Why))
	if w.PeakC.Known() {
		p.row("  ends at", "%s", Interval(w.PeakC, w.PeakLowC, w.PeakHighC, 1, "degC"))
	}
	p.row("", "%s", w.Caution)
}

// hotSpot is one core against its neighbours; nothing where cores are not measured.
func (p *printer) hotSpot(h analysis.HotSpot) {
	if h.Core == "" {
		return
	}
	p.row("hot spot", "%s: %s is %s over the median of the others%s", h.Verdict, h.Core, Interval(h.SpreadK, h.SpreadLowK, h.SpreadHighK, 1, "K"), because(h.Why))
	if h.KPerW.Known() {
		p.row("", "%s; from the first third of the load to the last %s", Interval(h.KPerW, h.LowKPerW, h.HighKPerW, 3, "K/W"), Interval(h.TrendK, h.TrendLowK, h.TrendHighK, 1, "K"))
	}
	if h.Change != "" {
		p.row("", "against the earlier session: %s, by %s", h.Change, Interval(h.ChangeKPerW, h.ChangeLowKPerW, h.ChangeHiKPerW, 3, "K/W"))
	}
}

// coolant is the balance; nothing where no liquid is measured.
func (p *printer) coolant(c analysis.Coolant) {
	if !c.FlowLMin.Known() {
		return
	}
	p.row("coolant", "%s at %s carries %s of %s%s", c.Liquid, Value(c.FlowLMin, 2, "L/min"), Interval(c.HeatW, c.HeatLowW, c.HeatHighW, 1, "W"), Value(c.PowerW, 1, "W"), because(c.Why))
	if c.Possible {
		found := "within the uncertainty"
		if c.StandsOut {
			found = "more than the uncertainty explains"
		}
		p.row("", "difference %s, %s", Interval(c.DifferenceW, c.DifferenceLowW, c.DifferenceHighW, 1, "W"), found)
	}
}

// second is another source of heat on the same cooler.
func (p *printer) second(s analysis.SecondHeat) {
	if s.Name == "" {
		return
	}
	switch {
	case s.Known:
		p.row("second source", "%s, %s: either die rises %s per watt of the other", s.Name, Value(s.PowerW, 1, "W"), Interval(s.SharedKPerW, s.SharedLowKPW, s.SharedHighKPW, 3, "K/W"))
	default:
		p.row("second source", "%s, %s: transfer undetermined%s", s.Name, Value(s.PowerW, 1, "W"), because(s.Why))
	}
}
