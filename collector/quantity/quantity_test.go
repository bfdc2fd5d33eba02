package quantity_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	. "soakline/collector/quantity"
)

// Conversions after the SI brochure (BIPM, 9th edition: prefixes, degree Celsius) and
// NIST SP 811 (2008), annex B.8 (degree Fahrenheit: t/degC = (t/degF - 32)/1.8).
func TestCanonical(t *testing.T) {
	for _, c := range []struct {
		unit string
		kind Kind
		raw  float64
		want float64
	}{
		{"degF", Temperature, 212, 100},
		{"°F", Temperature, -40, -40},
		{"K", Temperature, 273.15, 0},
		{"mdegC", Temperature, 61500, 61.5},
		{"uW", Power, 28e6, 28},
		{"mW", Power, 72690, 72.69},
		{"mJ", Energy, 2662691, 2662.691},
		{"uJ", Energy, 15.3e6, 15.3},
		{"kHz", Frequency, 2601000, 2601},
		{"GHz", Frequency, 4.2, 4200},
		{"mV", Potential, 1050, 1.05},
		{"mA", Current, -2100, -2.1},
		{"ms", Duration, 2440, 2.44},
		{"rpm", Rotation, 2860, 2860},
		{"L/min", Flow, 1.2, 1.2},
		{"delta_K", Difference, 9, 9},
	} {
		u, err := ParseUnit(c.unit)
		if err != nil {
			t.Errorf("%s: %v", c.unit, err)
			continue
		}
		if u.Kind != c.kind {
			t.Errorf("%s measures %v, want %v", c.unit, u.Kind, c.kind)
		}
		if got := u.Canonical(c.raw); math.Abs(got-c.want) > 1e-9*(1+math.Abs(c.want)) {
			t.Errorf("%v %s = %v, want %v", c.raw, c.unit, got, c.want)
		}
	}
}

// Every canonical unit can be read back as itself: what is written can be read.
func TestCanonicalUnitsRoundTrip(t *testing.T) {
	for k := Temperature; k <= Resistance; k++ {
		u, err := ParseUnit(k.Unit())
		if err != nil {
			t.Errorf("%v: %v", k, err)
			continue
		}
		if u.Kind != k || u.Canonical(12.5) != 12.5 {
			t.Errorf("%v is written %q, which reads as %v, 12.5 as %v", k, k.Unit(), u.Kind, u.Canonical(12.5))
		}
	}
}

func TestUnknownUnitNamesTheKnown(t *testing.T) {
	_, err := ParseUnit("furlong")
	if err == nil || !strings.Contains(err.Error(), "furlong") || !strings.Contains(err.Error(), "degC") {
		t.Errorf("error %v does not name the unit and the known ones", err)
	}
}

func ExampleKelvinPerWatt() {
	rise := Celsius(61).Minus(22)
	r := rise.Per(28)
	fmt.Printf("%.2f K/W, at 40 W %.1f degC", float64(r), float64(Celsius(22).Plus(r.Times(40))))
	// Output: 1.39 K/W, at 40 W 77.7 degC
}
