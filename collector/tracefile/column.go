package tracefile

import (
	"errors"
	"math"
	"strconv"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// column gathers one channel's values.
type column struct {
	heading
	decided bool // whether it is known to hold text or numbers
	values  []float64
	labels  []string
	index   map[string]float64
}

func newColumn(h heading) *column { return &column{heading: h, decided: h.stated} }

func (c *column) channel() telemetry.Channel {
	return telemetry.Channel{Key: c.name, Name: c.name, Quantity: c.unit.Kind, Source: "file", Labels: c.labels}
}

// add reads one cell: a value, or a gap where it is empty.
func (c *column) add(r *records, at cell) error {
	if len(at.text) == 0 {
		c.values = append(c.values, math.NaN())
		return nil
	}
	if !c.decided {
		c.decided = true
		if _, err := parseNumber(at.text); err != nil {
			c.unit.Kind = quantity.Label
		}
	}
	switch c.unit.Kind {
	case quantity.Label:
		c.addLabel(string(at.text))
		return nil
	case quantity.Bits:
		return c.addBits(r, at)
	}
	v, err := parseNumber(at.text)
	if err != nil {
		return r.fail(at.at, c.want(), shown(at.text))
	}
	c.values = append(c.values, c.canonical(v))
	return nil
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

func (c *column) addLabel(text string) {
	v, ok := c.index[text]
	if !ok {
		if c.index == nil {
			c.index = map[string]float64{}
		}
		v = float64(len(c.labels))
		c.labels, c.index[text] = append(c.labels, text), v
	}
	c.values = append(c.values, v)
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
