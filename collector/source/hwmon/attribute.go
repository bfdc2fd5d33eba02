package hwmon

import (
	"strings"

	"soakline/collector/quantity"
)

// attribute is a measured file of a chip: temp1_input is {temp 1 input}, pwm1 {pwm 1 ""}.
type attribute struct {
	kind, number, item string
}

// base is the name that an attribute shares with its label, flags and limits: "temp1".
func (a attribute) base() string { return a.kind + a.number }

// channel is base, with the item where it is not the plain input: "power1_average".
func (a attribute) channel() string {
	if a.item == "" || a.item == "input" {
		return a.base()
	}
	return a.base() + "_" + a.item
}

func (a attribute) file() string {
	if a.item == "" {
		return a.base()
	}
	return a.base() + "_" + a.item
}

// measure says how a kind of attribute is read: its factor from the unit of
// sysfs-interface.rst to the canonical one, and what can be true of it.
type measure struct {
	quantity quantity.Kind
	scale    float64
	min, max float64
}

// measures bounds what drivers give for broken or absent sensors: -128, 127, 128, 153,
// -273.15 and 65261.85 °C, 65535 and -1 rpm, all-ones words of firmware. The bounds of
// voltage, current and power are common practice, no source: wide enough for any board.
var measures = map[string]measure{
	"temp":     {quantity.Temperature, 1e-3, -55, 126.9},
	"fan":      {quantity.Rotation, 1, 0, 60000},
	"in":       {quantity.Potential, 1e-3, -60, 60},
	"curr":     {quantity.Current, 1e-3, -2000, 2000},
	"power":    {quantity.Power, 1e-6, -20000, 20000},
	"energy":   {quantity.Energy, 1e-6, 0, 1e15},
	"humidity": {quantity.Share, 1e-3, 0, 100},
	"pwm":      {quantity.Share, 100.0 / 255, 0, 100},
	"freq":     {quantity.Frequency, 1e-6, 0, 20000},
}

// parseAttribute reads a file name; ok is false for limits, flags, labels and whatever
// else is no measurement.
func parseAttribute(file string) (a attribute, ok bool) {
	name, item, _ := strings.Cut(file, "_")
	digits := len(name)
	for digits > 0 && name[digits-1] >= '0' && name[digits-1] <= '9' {
		digits--
	}
	a = attribute{kind: name[:digits], number: name[digits:], item: item}
	if _, known := measures[a.kind]; !known || a.number == "" {
		return attribute{}, false
	}
	switch a.kind {
	case "pwm":
		ok = file == name
	case "power", "curr", "in":
		ok = item == "input" || item == "average"
	default:
		ok = item == "input"
	}
	if !ok {
		return attribute{}, false
	}
	return a, true
}
