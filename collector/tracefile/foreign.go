package tracefile

import (
	"strings"

	"soakline/collector/quantity"
)

// spelled are units in words and in spellings that the contract does not know but files
// of other make use; lower case.
var spelled = map[string]string{
	"celsius": "degC", "deg c": "degC", "degrees c": "degC", "degree celsius": "degC", "degrees celsius": "degC", "℃": "degC", "c°": "degC",
	"fahrenheit": "degF", "deg f": "degF", "℉": "degF", "kelvin": "K",
	"watt": "W", "watts": "W", "milliwatt": "mW", "milliwatts": "mW", "joule": "J", "joules": "J",
	"volt": "V", "volts": "V", "millivolt": "mV", "millivolts": "mV", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A",
	"hz": "Hz", "khz": "kHz", "mhz": "MHz", "ghz": "GHz", "percent": "%", "pct": "%",
	"1/min": "rpm", "r/min": "rpm", "rev/min": "rpm", "min-1": "rpm", "rpm": "rpm",
	"sec": "s", "secs": "s", "second": "s", "seconds": "s", "msec": "ms", "millisecond": "ms", "milliseconds": "ms",
	"degc": "degC", "degf": "degF", "l/min": "L/min",
}

func anyUnit(text string) (quantity.Unit, bool) {
	text = strings.TrimSpace(text)
	if u, err := quantity.ParseUnit(text); err == nil && text != "1" {
		return u, true
	}
	if name, ok := spelled[strings.ToLower(text)]; ok {
		u, err := quantity.ParseUnit(name)
		return u, err == nil
	}
	return quantity.Unit{}, false
}

// foreignHeading reads a unit from a header of other make: "CPU power (W)", "Fan, rpm",
// "T / °C", "power in W", "Fan RPM". A single letter after a blank counts only where the
// name says the same: "phase A" is no current, "power W" is a power.
func foreignHeading(text string) (heading, bool) {
	if open := strings.LastIndexByte(text, '('); open > 0 && strings.HasSuffix(text, ")") {
		symbol := strings.TrimSpace(text[open+1 : len(text)-1])
		if u, ok := anyUnit(symbol); ok {
			return heading{strings.TrimSpace(text[:open]), u, symbol, true}, true
		}
	}
	for _, mark := range []string{" in ", " / ", "/", ", ", " "} {
		at := strings.LastIndex(text, mark)
		if at <= 0 {
			continue
		}
		name, symbol := strings.TrimSpace(text[:at]), strings.TrimSpace(text[at+len(mark):])
		u, ok := anyUnit(symbol)
		if !ok || name == "" {
			continue
		}
		if kind, known := guessKind(name); len(symbol) == 1 && symbol != "%" && (mark == " " || mark == "/") && (!known || kind != u.Kind) {
			continue
		}
		return heading{name, u, symbol, true}, true
	}
	return heading{}, false
}

// guessKind is what a name without a unit most likely measures.
func guessKind(name string) (quantity.Kind, bool) {
	w := wordsOf(name)
	switch {
	case w.any("reasons", "flags", "state", "status", "mode", "profile", "reason", "name", "id", "index", "number"):
		return quantity.Unknown, false
	case w.any("time", "elapsed"):
		return quantity.Duration, true
	case w.any("temperature", "temp", "tdie", "tctl", "tjunction", "tj", "hotspot"):
		return quantity.Temperature, true
	case w.any("power", "pl1", "pl2", "tdp", "wattage"):
		return quantity.Power, true
	case w.any("clock", "clk", "frequency", "freq"):
		return quantity.Frequency, true
	case w.any("fan", "pump") && !w.any("duty", "pwm", "percent", "control"):
		return quantity.Rotation, true
	case w.any("voltage", "vcore", "vid", "vdd"):
		return quantity.Potential, true
	case w.any("current", "amperage"):
		return quantity.Current, true
	case w.any("load", "usage", "utilization", "utilisation", "busy", "duty"):
		return quantity.Share, true
	}
	return quantity.Unknown, false
}

// guessUnit is the unit in which a quantity is most likely written, judged by its first
// value: clocks stand in GHz below 20, in MHz, in kHz and in Hz.
func guessUnit(kind quantity.Kind, first float64) quantity.Unit {
	name := kind.Unit()
	if kind == quantity.Frequency {
		switch {
		case first < 20:
			name = "GHz"
		case first >= 2e7:
			name = "Hz"
		case first >= 2e4:
			name = "kHz"
		}
	}
	u, err := quantity.ParseUnit(name)
	if err != nil {
		u.Kind = quantity.Unknown
	}
	return u
}
