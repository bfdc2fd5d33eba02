package say

import (
	"fmt"

	"soakline/analysis"
)

// held names what holds the chip back.
var held = map[analysis.Kind]string{
	analysis.Clock:      "its highest clock",
	analysis.PowerShort: "the short-term power limit",
	analysis.PowerLong:  "the long-term power limit",
	analysis.Thermal:    "heat",
	analysis.Current:    "a current limit",
	analysis.Other:      "something that is neither its power limits, heat nor its highest clock",
}

// resting is true where the trace ends without load.
func resting(r analysis.Result) bool {
	n := len(r.Limiter)
	return n == 0 || r.Limiter[n-1].Kind == analysis.Idle
}

// present says what is the case at the end of the trace.
func present(r analysis.Result) Part {
	n := len(r.Limiter)
	if n == 0 {
		return Part{"Waiting for the first readings.", "No sample has been taken yet."}
	}
	if !r.Now.PowerW.Known() && !r.Now.DieC.Known() {
		return Part{"Neither power nor die temperature is known.", "No channel holds the role of package power or of die at the end of the trace. The list of channels says what is missing and why."}
	}
	if resting(r) {
		return atRest(r)
	}
	kind, since := stretch(r.Limiter)
	p := Part{Text: fmt.Sprintf("Held at %s by %s since %s.", heldAt(r, kind), held[kind], clock(since)), Evidence: why(r, kind)}
	last := r.Limiter[n-1]
	if last.Second != nil && held[*last.Second] != "" {
		p.Text = fmt.Sprintf("Held at %s, probably by %s, or by %s.", heldAt(r, kind), held[kind], held[*last.Second])
	}
	if kind == analysis.PowerShort || kind == analysis.Clock {
		if left := r.Now.BurstLeftS; left.Known() {
			p.Text += fmt.Sprintf(" The burst lasts about %s more.", duration(float64(left)))
			p.Evidence += " Time left: tau ln((P - A)/(P - limit)), from the running average A of the measured power."
		}
	}
	return p
}

func atRest(r analysis.Result) Part {
	text := "Resting"
	if r.Now.PowerW.Known() {
		text += " at " + watts(float64(r.Now.PowerW))
	}
	if r.Now.DieC.Known() {
		text += ", " + celsius(float64(r.Now.DieC))
	}
	text += "."
	evidence := "Means over the last two seconds; power is that of rest."
	if len(r.Load) == 0 {
		text += " Start the load when ready."
		evidence += " No load was seen yet. Half a minute of rest before the load makes every later answer better."
	}
	return Part{text, evidence}
}

// past says what the longest load came to, once the machine rests again.
func past(r analysis.Result) Part {
	if len(r.Load) == 0 {
		return Part{}
	}
	best := r.Load[0]
	for _, sp := range r.Load {
		if sp.EndS-sp.StartS > best.EndS-best.StartS {
			best = sp
		}
	}
	kind, share := longest(r, best)
	if share == 0 {
		return Part{}
	}
	return Part{fmt.Sprintf("Under load (%s to %s) held at %s by %s, %.0f %% of the time.", clock(float64(best.StartS)), clock(float64(best.EndS)),
		heldAt(r, kind), held[kind], 100*share), why(r, kind)}
}

// longest is the limiter with the greatest share of a load.
func longest(r analysis.Result, load analysis.Span) (analysis.Kind, float64) {
	sum := map[analysis.Kind]float64{}
	best := analysis.Other
	for _, l := range r.Limiter {
		d := min(float64(l.EndS), float64(load.EndS)) - max(float64(l.StartS), float64(load.StartS))
		if d > 0 && l.Kind != analysis.Idle {
			if sum[l.Kind] += d; sum[l.Kind] > sum[best] {
				best = l.Kind
			}
		}
	}
	return best, sum[best] / float64(load.EndS-load.StartS)
}

// stretch is the kind of the last limiter span and since when it holds; other spans
// shorter than two seconds in between do not count.
func stretch(spans []analysis.LimiterSpan) (analysis.Kind, float64) {
	n := len(spans) - 1
	kind, since := spans[n].Kind, float64(spans[n].StartS)
	for i := n - 1; i >= 0; i-- {
		if spans[i].Kind == kind {
			since = float64(spans[i].StartS)
		} else if since-float64(spans[i].StartS) > 2 {
			break
		}
	}
	return kind, since
}

// heldAt is the power of a limiter: the limit's own where it is known.
func heldAt(r analysis.Result, kind analysis.Kind) string {
	switch {
	case kind == analysis.PowerLong && r.PowerLimit.LongW.Known():
		return watts(float64(r.PowerLimit.LongW))
	case kind == analysis.PowerShort && r.PowerStep.ShortW.Known():
		return watts(float64(r.PowerStep.ShortW))
	case resting(r) && r.Steady.PowerW.Known():
		return watts(float64(r.Steady.PowerW))
	case r.Now.PowerW.Known():
		return watts(float64(r.Now.PowerW))
	}
	return "an unknown power"
}

// why is the evidence for a limiter.
func why(r analysis.Result, kind analysis.Kind) string {
	last := r.Limiter[len(r.Limiter)-1]
	text := "Inferred from power, clock and temperature"
	if last.Source == "reported" {
		text = "Reported by the hardware"
	}
	if last.Kind == kind && last.Confidence.Known() && last.Source != "reported" {
		text += fmt.Sprintf(", confidence %.0f %%", 100*float64(last.Confidence))
	}
	text += "."
	if kind == analysis.PowerLong {
		text += " " + limitEvidence(r)
	}
	if kind == analysis.Thermal && len(r.ThermalHits) > 0 {
		text += fmt.Sprintf(" %s at the thermal limit of %s so far.", count(len(r.ThermalHits), "stay"), celsius(float64(r.ThermalHits[0].LimitC)))
	}
	return text
}

func limitEvidence(r analysis.Result) string {
	p, s := r.PowerLimit, r.PowerStep
	if !p.LongW.Known() {
		return p.Why + "."
	}
	text := fmt.Sprintf("Long-term limit %s (%s to %s): %s.", watts(float64(p.LongW)), watts(float64(p.LongLowW)), watts(float64(p.LongHighW)), p.Basis)
	if p.StatedLongW.Known() {
		text += fmt.Sprintf(" The hardware states %s.", watts(float64(p.StatedLongW)))
	}
	if s.Found {
		text += fmt.Sprintf(" The burst at %s ended at %s.", watts(float64(s.ShortW)), clock(float64(s.TimeS)))
	} else if s.Why != "" {
		text += " No burst: " + s.Why + "."
	}
	if s.TimeConstantS.Known() {
		text += fmt.Sprintf(" Time constant %.3g s (%.3g to %.3g).", s.TimeConstantS, s.TimeConstantLowS, s.TimeConstantHighS)
	}
	return text
}
