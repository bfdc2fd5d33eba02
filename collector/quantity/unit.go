package quantity

import (
	"fmt"
	"slices"
	"strings"
)

// Unit is a unit of measurement as a file, a feed or a person writes it.
type Unit struct {
	Kind   Kind
	scale  float64 // canonical = raw*scale + offset
	offset float64
}

// Canonical converts a raw reading in this unit into the canonical unit of its Kind.
func (u Unit) Canonical(raw float64) float64 { return raw*u.scale + u.offset }

// Scale is the factor from this unit to the canonical one, offset left out.
func (u Unit) Scale() float64 { return u.scale }

// units maps every spelling that is read to its meaning. Kelvin as the unit of a
// reading is an absolute temperature (a thermometer that counts from absolute zero);
// a temperature difference is written delta_K.
var units = map[string]Unit{
	"W": {Power, 1, 0}, "mW": {Power, 1e-3, 0}, "uW": {Power, 1e-6, 0}, "µW": {Power, 1e-6, 0},
	"degC": {Temperature, 1, 0}, "°C": {Temperature, 1, 0}, "C": {Temperature, 1, 0},
	"K":     {Temperature, 1, -273.15},
	"degF":  {Temperature, 5.0 / 9, -160.0 / 9},
	"°F":    {Temperature, 5.0 / 9, -160.0 / 9},
	"mdegC": {Temperature, 1e-3, 0}, "m°C": {Temperature, 1e-3, 0},
	"Hz": {Frequency, 1e-6, 0}, "kHz": {Frequency, 1e-3, 0}, "MHz": {Frequency, 1, 0}, "GHz": {Frequency, 1e3, 0},
	"rpm": {Rotation, 1, 0}, "RPM": {Rotation, 1, 0},
	"V": {Potential, 1, 0}, "mV": {Potential, 1e-3, 0},
	"A": {Current, 1, 0}, "mA": {Current, 1e-3, 0},
	"%": {Share, 1, 0},
	"J": {Energy, 1, 0}, "mJ": {Energy, 1e-3, 0}, "uJ": {Energy, 1e-6, 0}, "µJ": {Energy, 1e-6, 0},
	"s": {Duration, 1, 0}, "ms": {Duration, 1e-3, 0},
	"L/min": {Flow, 1, 0}, "l/min": {Flow, 1, 0},
	"delta_K": {Difference, 1, 0},
	"bits":    {Bits, 1, 0}, "text": {Label, 1, 0}, "1": {Count, 1, 0}, "1/s": {Rate, 1, 0}, "K/W": {Resistance, 1, 0},
}

// ParseUnit reads a unit as written inside the square brackets of a trace header or in
// a feed line. An unknown unit is an error that lists those that are read.
func ParseUnit(s string) (Unit, error) {
	if u, ok := units[strings.TrimSpace(s)]; ok {
		return u, nil
	}
	return Unit{}, fmt.Errorf("unit %q is not known; known are %s", s, strings.Join(UnitNames(), " "))
}

// UnitNames lists every unit that ParseUnit reads, sorted.
func UnitNames() []string {
	names := make([]string, 0, len(units))
	for n := range units {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}
