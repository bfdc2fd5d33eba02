package tracefile

import (
	"fmt"
	"strings"

	"soakline/collector/quantity"
)

// endings are the unit forms without brackets: "die_temperature_c". Sorted so that a
// longer ending is tried before the shorter one that it ends in.
var endings = []struct{ ending, unit string }{
	{"_k_per_w", "K/W"}, {"_l_per_min", "L/min"}, {"_per_s", "1/s"},
	{"_mdegc", "mdegC"}, {"_degc", "degC"}, {"_degf", "degF"},
	{"_mw", "mW"}, {"_uw", "uW"}, {"_w", "W"},
	{"_c", "degC"}, {"_f", "degF"}, {"_k", "delta_K"},
	{"_ghz", "GHz"}, {"_mhz", "MHz"}, {"_khz", "kHz"}, {"_hz", "Hz"},
	{"_rpm", "rpm"}, {"_pct", "%"}, {"_percent", "%"},
	{"_mv", "mV"}, {"_v", "V"}, {"_ma", "mA"}, {"_a", "A"},
	{"_mj", "mJ"}, {"_uj", "uJ"}, {"_j", "J"}, {"_ms", "ms"}, {"_s", "s"},
	{"_bits", "bits"}, {"_text", "text"},
}

// heading is what a header cell says. With stated false the cell gave no unit: the
// values decide whether the column holds numbers or text.
type heading struct {
	name   string
	unit   quantity.Unit
	symbol string // the unit as written, for messages
	stated bool
}

// parseHeading reads "name [unit]", "name_unit", what files of other make write, or a
// bare name. Spaces count only where
// the cell is quoted.
func parseHeading(text string, quoted bool) (heading, error) {
	if open := strings.LastIndexByte(text, '['); open >= 0 && strings.HasSuffix(text, "]") {
		name := strings.TrimSuffix(text[:open], " ")
		if !quoted {
			name = strings.TrimSpace(name)
		}
		symbol := strings.TrimSpace(text[open+1 : len(text)-1])
		if symbol == "" {
			plain, err := quantity.ParseUnit("1")
			plain.Kind = quantity.Unknown
			return heading{name: name, unit: plain, stated: true}, err
		}
		unit, err := quantity.ParseUnit(symbol)
		if other, ok := anyUnit(symbol); err != nil && ok {
			unit, err = other, nil
		}
		if err != nil {
			return heading{}, fmt.Errorf("unit %q", symbol)
		}
		return heading{name, unit, symbol, true}, nil
	}
	lower := strings.ToLower(text)
	for _, e := range endings {
		if len(text) > len(e.ending) && strings.HasSuffix(lower, e.ending) {
			unit, err := quantity.ParseUnit(e.unit)
			name := strings.ReplaceAll(text[:len(text)-len(e.ending)], "_", " ")
			return heading{name, unit, e.unit, true}, err
		}
	}
	if h, ok := foreignHeading(text); ok {
		return h, nil
	}
	plain, err := quantity.ParseUnit("1")
	plain.Kind = quantity.Unknown
	return heading{name: text, unit: plain}, err
}

// formatHeading is the inverse of parseHeading.
func formatHeading(name string, kind quantity.Kind) string {
	return name + " [" + kind.Unit() + "]"
}
