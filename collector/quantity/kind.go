package quantity

// Kind says what a channel measures. Each Kind has one canonical unit, in which every
// column, ring and archive block holds it.
type Kind uint8

// The kinds, each with its canonical unit.
const (
	Unknown     Kind = iota // a number whose unit was not given
	Temperature             // degC
	Difference              // K, written delta_K in files because K there is absolute
	Power                   // W
	Energy                  // J, a counter that only grows unless it wraps or restarts
	Frequency               // MHz
	Rotation                // rpm
	Potential               // V
	Current                 // A
	Share                   // %
	Duration                // s
	Flow                    // L/min
	Count                   // a counter of events, no unit
	Bits                    // a reason mask, an integer
	Label                   // text: the value is an index into the channel's Labels
	Rate                    // 1/s, work done a second
	Resistance              // K/W
)

var kinds = [...]struct{ name, unit string }{
	Unknown:     {"value", ""},
	Temperature: {"temperature", "degC"},
	Difference:  {"temperature difference", "delta_K"},
	Power:       {"power", "W"},
	Energy:      {"energy", "J"},
	Frequency:   {"frequency", "MHz"},
	Rotation:    {"rotational speed", "rpm"},
	Potential:   {"voltage", "V"},
	Current:     {"current", "A"},
	Share:       {"share", "%"},
	Duration:    {"duration", "s"},
	Flow:        {"flow", "L/min"},
	Count:       {"count", "1"},
	Bits:        {"reasons", "bits"},
	Label:       {"label", "text"},
	Rate:        {"rate", "1/s"},
	Resistance:  {"thermal resistance", "K/W"},
}

// String is the quantity's name in plain words, "temperature" for instance.
func (k Kind) String() string {
	if int(k) < len(kinds) {
		return kinds[k].name
	}
	return kinds[Unknown].name
}

// Unit is the canonical unit as files write it, "degC" for instance.
func (k Kind) Unit() string {
	if int(k) < len(kinds) {
		return kinds[k].unit
	}
	return ""
}

// Symbol is the canonical unit as screens show it, "°C" for instance.
func (k Kind) Symbol() string {
	switch k {
	case Temperature:
		return "°C"
	case Difference:
		return "K"
	case Count, Bits, Label:
		return ""
	}
	return k.Unit()
}
