package say

import (
	"fmt"
	"math"

	"soakline/analysis"
)

// Cautions stand beside every answer that could lead someone to raise a limit.
const cautions = "The maker's limits and local rules come first. Raise in small steps and stay with the machine; stop on smell, smoke, leak or a swelling battery."

// room says how much the cooler would carry.
func room(r analysis.Result) Part {
	h := r.Headroom
	switch {
	case !h.PowerW.Known() || !h.MarginK.Known():
		if h.Why == "" {
			return Part{}
		}
		return Part{"Headroom not known yet.", "Because " + h.Why + "."}
	case h.PowerHighW > 3*h.PowerLowW:
		return Part{"Headroom not known yet.", fmt.Sprintf("What this cooler would carry at %s is anywhere from %s to %s so far.",
			celsius(float64(h.LimitC)), whole(float64(h.PowerLowW)), whole(float64(h.PowerHighW)))}
	}
	text := fmt.Sprintf("%.0f K to %s limit: ", math.Abs(float64(h.MarginK)), limit(h))
	switch {
	case math.Abs(float64(h.MarginK)) < 0.5:
		text = fmt.Sprintf("At %s limit: ", limit(h))
	case h.MarginK < 0:
		text = fmt.Sprintf("%.0f K over %s limit: ", -float64(h.MarginK), limit(h))
	}
	text += fmt.Sprintf("this cooler would carry about %.0f W (%.0f to %.0f).", h.PowerW, h.PowerLowW, h.PowerHighW)
	return Part{text, roomEvidence(r)}
}

func limit(h analysis.Headroom) string {
	whose := map[string]string{"given": "your ", "reported": "the reported ", "assumed": "an assumed "}[h.LimitSource]
	return whose + celsius(float64(h.LimitC))
}

func roomEvidence(r analysis.Result) string {
	h, p := r.Headroom, r.ThermalPath
	text := fmt.Sprintf("From %.3g K/W (%.3g to %.3g) above %s (%s); 90 %% interval, wider the farther beyond the tested power.",
		p.RthKPerW, p.RthLowKPerW, p.RthHighKPerW, celsius(float64(p.ReferenceC)), p.ReferenceSource)
	if h.TestedToW.Known() && h.PowerW > h.TestedToW {
		text += fmt.Sprintf(" This trace has seen %s at most: the answer is extrapolated.", whole(float64(h.TestedToW)))
	}
	if h.NextStepW.Known() {
		text += fmt.Sprintf(" Next try at most %s.", whole(math.Floor(float64(h.NextStepW))))
	}
	return text + " " + cautions
}

// heating says whether the die has settled, and if not, where it is heading.
func heating(r analysis.Result) Part {
	s := r.Steady
	switch {
	case s.Reached && resting(r):
		return Part{fmt.Sprintf("It had settled at %s.", celsius(float64(s.TemperatureC))), settledEvidence(s)}
	case s.Reached:
		return Part{fmt.Sprintf("Settled at %s.", celsius(float64(s.TemperatureC))), settledEvidence(s)}
	case !s.ForecastC.Known():
		if s.Why == "" {
			return Part{}
		}
		return Part{"Where the temperature is heading is not known yet.", "Because " + s.Why + "."}
	case s.ForecastHighC-s.ForecastLowC > 30:
		return Part{"Where the temperature is heading is not known yet.", fmt.Sprintf("Between %s and %s by the first fit of the path.", celsius(float64(s.ForecastLowC)), celsius(float64(s.ForecastHighC)))}
	}
	return Part{forecast(r), fmt.Sprintf("Forecast for %s: %.1f °C (%.1f to %.1f, 90 %% interval), within 1 K of it in %s (%s to %s).",
		watts(float64(s.PowerW)), s.ForecastC, s.ForecastLowC, s.ForecastHighC, duration(float64(s.EtaS)), duration(float64(s.EtaLowS)), duration(float64(s.EtaHighS)))}
}

func forecast(r analysis.Result) string {
	s := r.Steady
	end := celsius(float64(s.ForecastC))
	if s.ForecastHighC-s.ForecastLowC > 4 {
		end = fmt.Sprintf("%.0f to %.0f °C", s.ForecastLowC, s.ForecastHighC)
	}
	if resting(r) {
		return "It had not settled: it was heading for " + end + "."
	}
	if r.Now.PowerW > 1.05*s.PowerW {
		return fmt.Sprintf("After the burst it heads for %s.", end)
	}
	change := "Still heating"
	if s.ForecastC < s.TemperatureC-1 {
		change = "Still cooling down"
	}
	if s.EtaS < 5 {
		return "Almost settled: " + end + "."
	}
	return fmt.Sprintf("%s: %s in about %s.", change, end, duration(float64(s.EtaS)))
}

func settledEvidence(s analysis.Steady) string {
	return fmt.Sprintf("Within 1 K since %s at %s; what may still come is smaller than 1 K.", clock(float64(s.SinceS)), watts(float64(s.PowerW)))
}
