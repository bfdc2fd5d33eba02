package say

import (
	"fmt"
	"math"

	"soakline/analysis"
)

// held names what holds the chip back.
var held = map[analysis.Kind]string{
	analysis.Clock:      "its highest clock",
	analysis.PowerShort: "the short-term power limit",
	analysis.PowerLong:  "the long-term power limit",
	analysis.Thermal:    "heat",
	analysis.Current:    "a current limit",
	analysis.Other:      "something that is neither a power limit, heat nor its highest clock",
}

// changing is how long a power that nothing explains counts as one that has just
// changed, s: a limit shows by holding power for some seconds.
const changing = 5.0

// resting is true where the trace ends without load.
func (w *writer) resting() bool {
	n := len(w.Limiter)
	return n == 0 || w.Limiter[n-1].Kind == analysis.Idle
}

// present says what is the case at the end of the trace.
func (w *writer) present() Part {
	n := len(w.Limiter)
	switch {
	case n == 0:
		return Part{Text: "Waiting for the first readings.", Evidence: "No sample has been taken yet."}
	case !w.Now.PowerW.Known() && !w.Now.DieC.Known() && n == 1 && w.UntilS < 2:
		return Part{Text: "Waiting for the first readings.", Evidence: "Power is known from the second sample on."}
	case !w.Now.PowerW.Known() && !w.Now.DieC.Known():
		return Part{Text: "Neither power nor die temperature is known.", Evidence: "No channel holds the role of package power or of die at the end of the trace. The list of channels says what is missing and why."}
	case w.resting():
		return w.atRest()
	}
	last, kind, since := w.Limiter[n-1], analysis.Kind(""), 0.0
	kind, since = stretch(w.Limiter)
	if kind == analysis.Other && w.UntilS-last.StartS < changing && last.Source != "reported" && w.Now.PowerW.Known() {
		power := float64(w.Now.PowerW)
		return Part{Text: fmt.Sprintf("Power has just changed to %s.", whole(power)),
			Evidence: fmt.Sprintf("Since %s. What holds it there shows once it has been held for some seconds.", clock(float64(last.StartS))),
			form:     "changing", figures: []figure{{power, 0.05*power + 0.5}}}
	}
	if !w.Now.PowerW.Known() && last.Source != "reported" && kind == analysis.Other {
		return Part{Text: "Under load. What holds it cannot be told without power.", Evidence: "No channel holds the role of package power. The list of channels says what is missing and why.", form: "no power"}
	}
	text, power := w.heldAt(kind)
	p := Part{Evidence: w.why(kind), form: "held " + string(kind), figures: []figure{power, {since, 1}}}
	p.Text = fmt.Sprintf("Held%s by %s since %s.", text, held[kind], start(since))
	if last.Second != nil && held[*last.Second] != "" && last.Kind == kind {
		p.form += " or " + string(*last.Second)
		p.Text = fmt.Sprintf("Held%s, probably by %s, or by %s.", text, held[kind], held[*last.Second])
	}
	w.burstEnd(kind, &p)
	return p
}

// start is since when something holds.
func start(since float64) string {
	if since < 0.5 {
		return "the recording began"
	}
	return clock(since)
}

// burstEnd adds when the burst will end, as a time of the trace, which stands still.
func (w *writer) burstEnd(kind analysis.Kind, p *Part) {
	left := w.Now.BurstLeftS
	if kind != analysis.PowerShort && kind != analysis.Clock && kind != analysis.Thermal || !(w.UntilS+left > 0) || !(left >= 1) {
		return
	}
	end := float64(w.UntilS + left)
	p.form += " burst"
	p.Text += fmt.Sprintf(" The burst lasts until about %s.", clock(end))
	p.Evidence += " Time left: tau ln((P - A)/(P - limit)), from the running average A of the measured power."
	p.figures = append(p.figures, figure{end, 1.5})
}

func (w *writer) atRest() Part {
	p := Part{Text: "Resting", Evidence: "Means over the last two seconds; power is that of rest.", form: "resting"}
	power, die := float64(w.Now.PowerW), float64(w.Now.DieC)
	if len(w.Load) == 0 && w.Now.RestW > 0 && power > 1.5*float64(w.Now.RestW) {
		return Part{Text: fmt.Sprintf("Power is rising: %s.", whole(power)), Evidence: "Above that of rest, but not yet long enough to be a load.",
			form: "rising", figures: []figure{{power, 0.05 * power}}}
	}
	if w.Now.PowerW.Known() {
		p.Text += " at " + restPower(power)
		p.figures = append(p.figures, figure{power, 0.1*power + 0.2})
	}
	if w.Now.DieC.Known() {
		p.Text += ", " + celsius(die)
		p.figures = append(p.figures, figure{die, 0.9})
	}
	p.Text += "."
	if len(w.Load) == 0 {
		p.form = "before"
		p.Text += " Start the load when ready."
		p.Evidence += " No load was seen yet. Half a minute of rest before the load makes every later answer better."
	}
	return p
}

// restPower writes the power of a resting machine, which nobody needs to the tenth.
func restPower(p float64) string {
	if p < 2 {
		return fmt.Sprintf("%.1f W", p)
	}
	return whole(p)
}

// past says what the longest load came to, once the machine rests again.
func (w *writer) past() Part {
	if len(w.Load) == 0 {
		return Part{}
	}
	best := w.Load[0]
	for _, sp := range w.Load {
		if sp.EndS-sp.StartS > best.EndS-best.StartS {
			best = sp
		}
	}
	kind, share, hot := longest(w.Limiter, best)
	if share == 0 {
		return Part{}
	}
	at, power := w.heldAt(kind)
	text := fmt.Sprintf("Under load (%s to %s) held%s by %s, %.0f %% of the time", clock(float64(best.StartS)), clock(float64(best.EndS)), at, held[kind], 100*share)
	if !w.Steady.PowerW.Known() && kind == analysis.Other {
		return Part{Text: fmt.Sprintf("Under load (%s to %s); what held it cannot be told without power.", clock(float64(best.StartS)), clock(float64(best.EndS))), Evidence: w.why(kind)}
	}
	if kind != analysis.Thermal && hot >= 0.005 {
		text += fmt.Sprintf(", by heat %.0f %%", math.Max(100*hot, 1))
	}
	return Part{Text: text + ".", Evidence: w.why(kind), form: "past " + string(kind),
		figures: []figure{power, {100 * share, 1}, {100 * hot, 1}, {float64(best.StartS), 1}, {float64(best.EndS), 1}}}
}

// longest is the limiter with the greatest share of a load, and the share of heat.
func longest(spans []analysis.LimiterSpan, load analysis.Span) (kind analysis.Kind, share, hot float64) {
	sum := map[analysis.Kind]float64{}
	best := analysis.Other
	for _, l := range spans {
		d := min(float64(l.EndS), float64(load.EndS)) - max(float64(l.StartS), float64(load.StartS))
		if d > 0 && l.Kind != analysis.Idle {
			if sum[l.Kind] += d; sum[l.Kind] > sum[best] {
				best = l.Kind
			}
		}
	}
	length := float64(load.EndS - load.StartS)
	return best, sum[best] / length, sum[analysis.Thermal] / length
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

// heldAt is the power of a limiter, with its preposition: the limit's own, to the tenth, where it is known;
// else that of the moment, which moves, in whole watts; nothing where none is known.
func (w *writer) heldAt(kind analysis.Kind) (string, figure) {
	exact := func(n analysis.Number) (string, figure) {
		return " at " + watts(float64(n)), figure{float64(n), 0.0005*float64(n) + 0.04}
	}
	switch {
	case kind == analysis.PowerLong && w.PowerLimit.LongW.Known():
		return exact(w.PowerLimit.LongW)
	case kind == analysis.PowerShort && w.PowerStep.ShortW.Known():
		return exact(w.PowerStep.ShortW)
	case w.resting() && w.Steady.PowerW.Known():
		return exact(w.Steady.PowerW)
	case w.Now.PowerW.Known():
		return " at " + whole(float64(w.Now.PowerW)), figure{float64(w.Now.PowerW), 0.02*float64(w.Now.PowerW) + 0.5}
	}
	return "", figure{}
}

// why is the evidence for a limiter.
func (w *writer) why(kind analysis.Kind) string {
	last := w.Limiter[len(w.Limiter)-1]
	text := "Inferred from power, clock and temperature"
	if last.Source == "reported" {
		text = "Reported by the hardware"
	}
	if last.Kind == kind && last.Confidence.Known() && last.Source != "reported" {
		text += fmt.Sprintf(", confidence %.0f %%", 100*float64(last.Confidence))
	}
	text += "."
	if kind == analysis.PowerLong || kind == analysis.PowerShort {
		text += " " + w.limitEvidence()
	}
	if kind == analysis.Thermal && len(w.ThermalHits) > 0 {
		text += fmt.Sprintf(" %s at the thermal limit of %s so far.", count(len(w.ThermalHits), "stay"), celsius(float64(w.ThermalHits[0].LimitC)))
	}
	return text
}

// limitEvidence sets the limits that the trace shows beside those that the hardware
// states, with the difference.
func (w *writer) limitEvidence() string {
	p, s := w.PowerLimit, w.PowerStep
	if !p.LongW.Known() {
		return sentence(p.Why)
	}
	text := fmt.Sprintf("Long-term limit %s (%s to %s): %s.", watts(float64(p.LongW)), watts(float64(p.LongLowW)), watts(float64(p.LongHighW)), p.Basis)
	if p.StatedLongW.Known() {
		text += fmt.Sprintf(" The hardware states %s%s.", watts(float64(p.StatedLongW)), beside(p.LongW, p.StatedLongW))
	}
	if s.Found {
		text += fmt.Sprintf(" The burst at %s ended at %s.", watts(float64(s.ShortW)), clock(float64(s.TimeS)))
		if s.StatedShortW.Known() {
			text += fmt.Sprintf(" The hardware states a short-term limit of %s%s.", watts(float64(s.StatedShortW)), beside(s.ShortW, s.StatedShortW))
		}
	} else if s.Why != "" {
		text += " No burst: " + s.Why + "."
	}
	if s.TimeConstantS.Known() {
		text += fmt.Sprintf(" Time constant %.3g s (%.3g to %.3g).", s.TimeConstantS, s.TimeConstantLowS, s.TimeConstantHighS)
		if s.StatedTimeConstantS.Known() {
			text += fmt.Sprintf(" The hardware states %.3g s%s.", s.StatedTimeConstantS, beside(s.TimeConstantS, s.StatedTimeConstantS))
		}
	}
	return text
}

// beside is how far what was seen lies from what is stated; nothing below half a per cent.
func beside(seen, stated analysis.Number) string {
	d := 100 * float64(seen/stated-1)
	if !(math.Abs(d) >= 0.5) {
		return ""
	}
	return fmt.Sprintf(", what was seen is %+.1f %% off", d)
}

// sentence ends a reason with a full stop and begins it with a capital.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	return string(s[0]&^0x20) + s[1:] + "."
}
