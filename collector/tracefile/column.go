package tracefile

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// column gathers one channel's values.
type column struct {
	heading
	cell    int
	decided bool // whether it is known to hold text or numbers
	guessed bool // the unit was, from the name
	values  []float64
	labels  []string
	index   map[string]float64
	sum     float64
	numbers int
}

func newColumn(h heading, cell int) *column {
	return &column{heading: h, cell: cell, decided: h.stated}
}

// mean is that of all its values so far.
func (c *column) mean() float64 { return c.sum / float64(max(c.numbers, 1)) }

func (c *column) channel() telemetry.Channel {
	return telemetry.Channel{Key: c.name, Name: c.name, Quantity: c.unit.Kind, Source: "file", Labels: c.labels}
}

// add reads one cell: a value, or a gap where it is empty.
func (c *column) add(r *records, at cell) error {
	if len(at.text) == 0 {
		c.values = append(c.values, math.NaN())
		return nil
	}
	if c.unit.Kind != quantity.Label && missing(at.text) {
		c.values = append(c.values, math.NaN())
		return nil
	}
	if !c.decided {
		c.decide(r, at.text)
	}
	switch c.unit.Kind {
	case quantity.Label:
		return c.addLabel(r, at)
	case quantity.Bits:
		return c.addBits(r, at)
	}
	v, err := r.number(at.text)
	if err != nil {
		return r.fail(at.at, c.want()+r.sign(), shown(at.text))
	}
	if v = c.canonical(v); !math.IsNaN(v) {
		c.sum += v
		c.numbers++
	}
	c.values = append(c.values, v)
	return nil
}

// decide tells by the first value what a column holds whose header states no unit.
func (c *column) decide(r *records, text []byte) {
	c.decided = true
	v, err := r.number(text)
	if err != nil {
		c.unit.Kind = quantity.Label
		return
	}
	if kind, ok := guessKind(c.name); ok {
		c.unit, c.guessed = guessUnit(kind, v), true
		if c.symbol = kind.Unit(); kind == quantity.Frequency {
			c.symbol = map[float64]string{1e3: "GHz", 1: "MHz", 1e-3: "kHz", 1e-6: "Hz"}[c.unit.Scale()]
		}
	}
}

// canonical leaves a value in its canonical unit untouched to the last bit.
func (c *column) canonical(v float64) float64 {
	if math.IsNaN(v) || c.unit.Scale() == 1 && c.unit.Canonical(0) == 0 {
		return v
	}
	return c.unit.Canonical(v)
}

func (c *column) want() string {
	switch {
	case c.stated && c.symbol != "":
		return "a number in " + c.symbol
	case c.stated:
		return "a number"
	}
	return "a number as in the rows above (a column of text says [text] in the header)"
}

// maxLabels is how many different texts one column may hold.
const maxLabels = 1 << 16

func (c *column) addLabel(r *records, at cell) error {
	text := string(at.text)
	v, ok := c.index[text]
	if !ok {
		if c.index == nil {
			c.index = map[string]float64{}
		}
		if v = float64(len(c.labels)); v >= maxLabels {
			return r.fail(at.at, fmt.Sprintf("at most %d different texts in one column", maxLabels), "one more")
		}
		c.labels, c.index[text] = append(c.labels, text), v
	}
	c.values = append(c.values, v)
	return nil
}

// maxBits is the largest mask that a float64 column holds exactly.
const maxBits = 1 << 53

func (c *column) addBits(r *records, at cell) error {
	v, err := strconv.ParseUint(string(at.text), 0, 64)
	if err != nil || v > maxBits {
		return r.fail(at.at, "a reason mask, a whole number from 0 to 2^53", shown(at.text))
	}
	c.values = append(c.values, float64(v))
	return nil
}

var errNumber = errors.New("no number")

// parseNumber reads a decimal number; NaN in any case is a gap. Infinities, hexadecimal
// and other forms that only Go knows are refused.
func parseNumber(b []byte) (float64, error) {
	for _, c := range b {
		if (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			if len(b) == 3 && (b[0]|32) == 'n' && (b[1]|32) == 'a' && (b[2]|32) == 'n' {
				return math.NaN(), nil
			}
			return 0, errNumber
		}
	}
	return strconv.ParseFloat(string(b), 64)
}
