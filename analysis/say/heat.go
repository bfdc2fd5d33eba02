package say

import (
	"fmt"
	"math"

	"soakline/analysis"
)

// Cautions stand beside every answer that could lead someone to raise a limit.
const cautions = "The maker's limits and local rules come first. Raise in small steps and stay with the machine; stop on smell, smoke, leak or a swelling battery."

// alarm says that the die is above the user's limit at this moment.
func (w *writer) alarm() Part {
	h, die := w.Headroom, float64(w.Now.DieC)
	over := die - float64(h.LimitC)
	if w.resting() || !(over >= 1 || w.said("alarm") && over > 0) {
		return Part{}
	}
	return Part{Text: fmt.Sprintf("Now %s: %.0f K over %s limit.", celsius(die), math.Max(over, 1), limit(h)),
		Evidence: "The mean of the die temperature over the last two seconds. " + cautions,
		form:     "alarm", figures: []figure{{die, 1.4}}}
}

// fan says that it stands still under load.
func (w *writer) fan() Part {
	since := float64(w.Now.FanStoppedS)
	if !(since > 0) {
		return Part{}
	}
	return Part{Text: fmt.Sprintf("The fan stopped at %s.", clock(since)),
		Evidence: "It turned under this load before. Forecast, K/W and headroom are those of the time before. End the load unless this is meant.", form: "fan", figures: []figure{{since, 2}}}
}

// room says how much the cooler would carry.
func (w *writer) room() Part {
	h := w.Headroom
	wide := 3.0
	if w.said("room") {
		wide = 3.6
	}
	switch {
	case w.fan().Text != "":
		return Part{}
	case w.lacks() != "":
		return Part{Text: "Headroom and settling cannot be told without " + w.lacks() + ".", Evidence: "At the end of the trace it is not measured. The list of channels says what is missing and why.", form: "lacking " + w.lacks()}
	case !h.PowerW.Known() || !h.MarginK.Known():
		if h.Why == "" {
			return Part{}
		}
		return Part{Text: "Headroom not known yet.", Evidence: "Because " + h.Why + ".", form: "no room"}
	case float64(h.PowerHighW) > wide*float64(h.PowerLowW):
		return Part{Text: "Headroom not known yet.", Evidence: fmt.Sprintf("What this cooler would carry at %s is anywhere from %s to %s so far.",
			celsius(float64(h.LimitC)), whole(float64(h.PowerLowW)), whole(float64(h.PowerHighW))), form: "no room"}
	}
	low, high := float64(h.PowerLowW), float64(h.PowerHighW)
	st := step(high - low)
	margin, slack := w.margin()
	text := fmt.Sprintf("%s this cooler would carry about %.0f W (%s).", margin, rounded(float64(h.PowerW), st), span(low, high))
	return Part{Text: text, Evidence: w.roomEvidence(), form: "room",
		figures: []figure{{float64(h.MarginK), slack}, {float64(h.PowerW), 0.9 * st}, {low, 0.9 * st}, {high, 0.9 * st}, {float64(h.LimitC), 0}}}
}

// lacks names what the answers about heat need and the end of the trace does not have, while
// a load runs; "" if nothing.
func (w *writer) lacks() string {
	switch {
	case w.resting():
		return ""
	case !w.Now.PowerW.Known():
		return "power"
	case !w.Now.DieC.Known():
		return "a die temperature"
	}
	return ""
}

// margin is what is left to the limit at the settled temperature, by how sure that is.
func (w *writer) margin() (text string, slack float64) {
	h, s := w.Headroom, w.Steady
	m, width := float64(h.MarginK), float64(s.ForecastHighC-s.ForecastLowC)
	st := math.Max(step(width), 1)
	switch whose := limit(h); {
	case width > 12 && math.Abs(m) < width/2:
		return fmt.Sprintf("It would end near %s limit:", whose), width / 4
	case width > 12:
		return fmt.Sprintf("At %s limit", whose), width / 4
	case math.Abs(m) < math.Max(0.5, width/4):
		return fmt.Sprintf("At %s limit:", whose), 0.6 * st
	case m < 0 && !s.Reached:
		return fmt.Sprintf("It would end %.0f K over %s limit:", rounded(-m, st), whose), 0.9 * st
	case m < 0:
		return fmt.Sprintf("%.0f K over %s limit:", rounded(-m, st), whose), 0.9 * st
	default:
		return fmt.Sprintf("%.0f K to %s limit:", rounded(m, st), whose), 0.9 * st
	}
}

func limit(h analysis.Headroom) string {
	whose := map[string]string{"given": "your ", "reported": "the reported ", "assumed": "an assumed "}[h.LimitSource]
	return whose + celsius(float64(h.LimitC))
}

func (w *writer) roomEvidence() string {
	h, p, s := w.Headroom, w.ThermalPath, w.Steady
	text := fmt.Sprintf("From %.3g K/W (%.3g to %.3g) above %s (%s); 90 %% interval, wider the farther beyond the tested power.",
		p.RthKPerW, p.RthLowKPerW, p.RthHighKPerW, celsius(float64(p.ReferenceC)), p.ReferenceSource)
	if s.ForecastC.Known() {
		text += fmt.Sprintf(" The margin is that of the settled temperature, %.1f °C (%.1f to %.1f).", s.ForecastC, s.ForecastLowC, s.ForecastHighC)
	}
	if h.TestedToW.Known() && h.PowerW > h.TestedToW {
		text += fmt.Sprintf(" This trace has seen %s at most: the answer is extrapolated.", whole(float64(h.TestedToW)))
	}
	if h.NextStepW.Known() {
		text += fmt.Sprintf(" Next try at most %s.", whole(math.Floor(float64(h.NextStepW))))
	}
	return text + " " + cautions
}

// heating says whether the die has settled, and if not, where it is heading.
func (w *writer) heating() Part {
	s := w.Steady
	wide := 30.0
	if w.said("heading") {
		wide = 40
	}
	width := float64(s.ForecastHighC - s.ForecastLowC)
	switch {
	case w.fan().Text != "":
		return Part{Text: "Where the temperature is heading is not known without it.", Evidence: "The path was fitted while the fan turned.", form: "unknown end"}
	case w.lacks() != "":
		return Part{}
	case s.Reached:
		text := fmt.Sprintf("Settled at %s.", celsius(float64(s.TemperatureC)))
		form := "settled"
		if w.resting() {
			text, form = fmt.Sprintf("It had settled at %s.", celsius(float64(s.TemperatureC))), "had settled"
		}
		return Part{Text: text, Evidence: settledEvidence(s), form: form, figures: []figure{{float64(s.TemperatureC), 0.9}}}
	case !s.ForecastC.Known():
		if s.Why == "" {
			return Part{}
		}
		return Part{Text: "Where the temperature is heading is not known yet.", Evidence: "Because " + s.Why + ".", form: "unknown end"}
	case width > wide:
		return Part{Text: "Where the temperature is heading is not known yet.", Evidence: fmt.Sprintf("Between %s and %s by the first fit of the path.",
			celsius(float64(s.ForecastLowC)), celsius(float64(s.ForecastHighC))), form: "unknown end"}
	}
	st := math.Max(step(width), 1)
	p := Part{Evidence: fmt.Sprintf("Forecast for %s: %.1f °C (%.1f to %.1f, 90 %% interval), within 1 K of it in %s (%s to %s).",
		watts(float64(s.PowerW)), s.ForecastC, s.ForecastLowC, s.ForecastHighC, duration(float64(s.EtaS)), duration(float64(s.EtaLowS)), duration(float64(s.EtaHighS))),
		form: "heading", figures: []figure{{float64(s.ForecastC), 0.9 * st}, {width, math.Max(2, width/4)}}}
	p.Text, p.figures = w.heading(p.figures)
	return p
}

// heading is the sentence of a forecast, and what it must stay near to.
func (w *writer) heading(f []figure) (string, []figure) {
	s := w.Steady
	end := celsius(float64(s.ForecastC))
	if s.ForecastHighC-s.ForecastLowC > 4 {
		end = span(float64(s.ForecastLowC), float64(s.ForecastHighC)) + " °C"
	}
	eta := float64(s.EtaS)
	case0 := func(kind float64) []figure { return append(f, figure{kind, 0}) }
	switch {
	case w.resting():
		return "It had not settled: it was heading for " + end + ".", case0(0)
	case w.Now.PowerW > 1.05*s.PowerW:
		return fmt.Sprintf("After the burst it will settle at %s.", end), case0(1)
	case w.against():
		return "Heating up against the forecast: has the fan or the room changed?", case0(5)
	case eta < 5 && s.ForecastHighC-s.ForecastLowC <= 8:
		return "Almost settled: " + end + ".", case0(2)
	case eta < 5:
		return "Heading for " + end + ".", case0(6)
	case s.ForecastC < s.TemperatureC-1:
		return fmt.Sprintf("Still cooling down: %s in about %s.", end, duration(eta)), append(case0(3), figure{eta, 0.7 * durationStep(eta)})
	}
	if s.ForecastLowC < s.TemperatureC-2 { // it may as well be there already
		return fmt.Sprintf("Heading for %s in about %s.", end, duration(eta)), append(case0(7), figure{eta, 0.7 * durationStep(eta)})
	}
	return fmt.Sprintf("Still heating: %s in about %s.", end, duration(eta)), append(case0(4), figure{eta, 0.7 * durationStep(eta)})
}

// against is true where the die warms although the path says that it has come to its end
// or beyond: something changed that the path cannot know.
func (w *writer) against() bool {
	need := 1.0
	for _, p := range w.was.Parts {
		if p.form == "heading" && len(p.figures) > 2 && p.figures[2].value == 5 {
			need = 0.4
		}
	}
	return w.Now.DieTrendK >= analysis.Number(need) && w.Steady.ForecastC < w.Now.DieC-1
}

func settledEvidence(s analysis.Steady) string {
	return fmt.Sprintf("Within 1 K since %s at %s; what may still come is smaller than 1 K.", clock(float64(s.SinceS)), watts(float64(s.PowerW)))
}
