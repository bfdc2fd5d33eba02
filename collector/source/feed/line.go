package feed

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// maxLine is the longest line in bytes, maxName the longest name.
const (
	maxLine = 1024
	maxName = 80
)

// Line is one line of a feed. At most one of Value and Hello is set: blank lines and
// comments have neither.
type Line struct {
	Value *Value
	Hello *Hello
}

// Value is a reading as the sender wrote it.
type Value struct {
	Name string
	Raw  float64 // in Unit; NaN where there is no value
	Unit quantity.Unit
	// Symbol is the unit as written.
	Symbol string
	// Time is the sender's clock in s; NaN where it was not given.
	Time    float64
	Seq     uint64 // 0 where it was not given: HasSeq tells
	HasSeq  bool
	Age     float64 // s
	Window  float64 // s, 0: not said
	State   telemetry.State
	Counter bool
	Wrap    float64 // in Unit, 0: not said
	Role    telemetry.Role
	Device  string
}

// Hello is how a sender introduces itself.
type Hello struct {
	Source, Host    string
	Interval, Stale float64 // s, 0: not said
}

// ParseLine reads one line without its end. The error says what is wrong with it and
// what was expected.
func ParseLine(text string) (Line, error) {
	text, err := checkSum(strings.TrimSpace(text))
	if err != nil || text == "" || text[0] == '#' {
		return Line{}, err
	}
	if len(text) > maxLine {
		return Line{}, fmt.Errorf("the line is longer than %d bytes", maxLine)
	}
	parts, err := split(text)
	if err != nil {
		return Line{}, err
	}
	if parts[0] == (part{text: "hello"}) && (len(parts) == 1 || parts[1].key != "") {
		h, err := parseHello(parts[1:])
		return Line{Hello: h}, err
	}
	v, err := parseValue(parts)
	return Line{Value: v}, err
}

func parseValue(parts []part) (*Value, error) {
	plain := slices.IndexFunc(parts, func(p part) bool { return p.key != "" })
	if plain < 0 {
		plain = len(parts)
	}
	if plain < 3 || plain > 4 {
		return nil, fmt.Errorf(`expected: name value unit [time] [key=value ...], for instance "coolant in" 24.31 degC; got %d parts before the first key=value`, plain)
	}
	v := &Value{Name: parts[0].text, Symbol: parts[2].text, Time: math.NaN(), State: telemetry.Fresh}
	if n := len([]rune(v.Name)); n == 0 || n > maxName {
		return nil, fmt.Errorf("the name has %d letters: expected 1 to %d", n, maxName)
	}
	var err error
	if v.Unit, err = parseUnit(v.Symbol); err != nil {
		return nil, fmt.Errorf("%s: %w", v.Name, err)
	}
	if v.Raw, err = parseNumber(parts[1]); err != nil {
		return nil, fmt.Errorf("%s: value %w", v.Name, err)
	}
	if plain == 4 {
		if v.Time, err = parseTime(parts[3]); err != nil {
			return nil, fmt.Errorf("%s: %w", v.Name, err)
		}
	}
	for _, p := range parts[plain:] {
		if err := v.field(p); err != nil {
			return nil, fmt.Errorf("%s: %w", v.Name, err)
		}
	}
	return v, v.check()
}

// units that a line may have are those of a number.
func parseUnit(symbol string) (quantity.Unit, error) {
	u, err := quantity.ParseUnit(symbol)
	if err == nil && u.Kind != quantity.Label && u.Kind != quantity.Bits {
		return u, nil
	}
	known := slices.DeleteFunc(quantity.UnitNames(), func(n string) bool { return n == "text" || n == "bits" })
	return u, fmt.Errorf("unit %q is not known; known are %s", symbol, strings.Join(known, " "))
}

// field reads one key=value of a reading.
func (v *Value) field(p part) (err error) {
	switch p.key {
	case "seq":
		v.HasSeq = true
		if v.Seq, err = strconv.ParseUint(p.text, 10, 64); err != nil {
			return fmt.Errorf("seq=%q: expected a whole number", p.text)
		}
	case "age":
		v.Age, err = parseSpan(p)
	case "window":
		v.Window, err = parseSpan(p)
	case "wrap":
		if v.Wrap, err = parseSpan(p); err == nil && v.Wrap == 0 {
			err = fmt.Errorf("wrap=0: expected the number at which the counter starts again")
		}
	case "device":
		v.Device = p.text
	case "role":
		v.Role = telemetry.Role(strings.ReplaceAll(p.text, "_", " "))
	case "kind":
		if v.Counter = p.text == "counter"; !v.Counter && p.text != "gauge" {
			err = fmt.Errorf("kind=%q: expected gauge or counter", p.text)
		}
	case "quality":
		state, known := qualities[p.text]
		if v.State = state; !known {
			err = fmt.Errorf("quality=%q: expected ok, stale, asleep, fault or none", p.text)
		}
	default:
		err = fmt.Errorf("field %q is not known; known are seq age window quality kind wrap role device sum", p.key)
	}
	return err
}

var qualities = map[string]telemetry.State{
	"ok": telemetry.Fresh, "stale": telemetry.GapStale, "asleep": telemetry.GapAsleep,
	"fault": telemetry.GapDisabled, "none": telemetry.GapNotReady,
}

// check looks at what only the whole line can tell.
func (v *Value) check() error {
	if math.IsNaN(v.Raw) && v.State == telemetry.Fresh {
		v.State = telemetry.GapNotReady
	}
	if v.Counter && v.Unit.Kind != quantity.Energy && v.Unit.Kind != quantity.Count {
		return fmt.Errorf("%s: a counter is of energy (J) or of events (1), not of %s", v.Name, v.Unit.Kind)
	}
	if v.Unit.Kind == quantity.Energy {
		v.Counter = true // nothing else is meant by an energy that is sent again and again
	}
	if v.Wrap > 0 && !v.Counter {
		return fmt.Errorf("%s: wrap belongs to a counter", v.Name)
	}
	if v.Role == telemetry.RoleNone {
		return nil
	}
	c := []telemetry.Channel{{Name: v.Name, Key: v.Name, Quantity: v.quantity()}}
	_, err := telemetry.Resolve(c, map[telemetry.Role]string{v.Role: v.Name})
	return err
}

// quantity is what the channel measures: power where the line has a counter of energy.
func (v *Value) quantity() quantity.Kind {
	if v.Unit.Kind == quantity.Energy {
		return quantity.Power
	}
	return v.Unit.Kind
}

func parseHello(parts []part) (*Hello, error) {
	h := &Hello{}
	for _, p := range parts {
		var err error
		switch p.key {
		case "source":
			h.Source = p.text
		case "host":
			h.Host = p.text
		case "interval":
			h.Interval, err = parseSpan(p)
		case "stale":
			h.Stale, err = parseSpan(p)
		default:
			err = fmt.Errorf("hello: %q is not known; known are source host interval stale", p.key+p.text)
		}
		if err != nil {
			return nil, err
		}
	}
	return h, nil
}

// parseSpan reads a finite number from 0 on.
func parseSpan(p part) (float64, error) {
	v, err := parseNumber(part{text: p.text})
	if err != nil || !(v >= 0) {
		return 0, fmt.Errorf("%s=%q: expected a number from 0 on", p.key, p.text)
	}
	return v, nil
}

// parseNumber reads a decimal number; - and nan are NaN.
func parseNumber(p part) (float64, error) {
	if p.text == "-" || strings.EqualFold(p.text, "nan") {
		return math.NaN(), nil
	}
	plain := !p.quoted && p.text != "" && strings.Trim(p.text, "0123456789.+-eE") == ""
	v, err := strconv.ParseFloat(p.text, 64)
	if !plain || err != nil {
		return 0, fmt.Errorf("%q: expected a decimal number, or - for none", p.text)
	}
	return v, nil
}

func parseTime(p part) (float64, error) {
	if at, err := time.Parse(time.RFC3339Nano, p.text); err == nil {
		return float64(at.Unix()) + float64(at.Nanosecond())/1e9, nil
	}
	v, err := parseNumber(p)
	if err != nil || math.IsNaN(v) {
		return 0, fmt.Errorf("time %q: expected seconds, or a time as in RFC 3339", p.text)
	}
	return v, nil
}
