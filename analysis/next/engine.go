package next

import (
	"fmt"
	"math"
	"regexp"
	"strings"

	"soakline/analysis"
)

// finding is a named number of the result with its 90 % interval.
type finding struct {
	value, low, high float64 // NaN is not known
	unit             string
	places           int
	word             string // for findings that are words rather than numbers
	why              string // why it is not known
}

// facts are the findings by name. What has no entry is not known.
type facts map[string]finding

// op compares a finding with a number.
type op string

const (
	above    op = ">" // the value
	below    op = "<"
	surely   op = "low >"  // the lower end of its interval
	surelyNo op = "high <" // the upper end
)

// condition is one condition over a finding.
type condition struct {
	Finding string
	Op      op
	Number  float64
}

// rule is one row of the table. Texts may name findings in braces: {margin} is the value
// with its unit, {margin ±} has the interval too. A rule whose texts name a finding that is
// not known does not fire; one with Open then asks its question as undetermined.
type rule struct {
	Name     string
	Kind     Kind
	Rank     int
	When     []condition
	Text     string
	Evidence string
	Gain     string // the finding that is the expected gain; "" for none
	GainOf   string // what it is a gain of
	Caution  string
	// Open is the question that stays open where the first condition, the situation, holds
	// and what else is needed is not known.
	Open string
}

// evaluate applies a rule; ok is false where there is nothing to say.
func (r rule) evaluate(f facts) (e Entry, ok bool) {
	e = Entry{Rule: r.Name, Kind: r.Kind, Rank: r.Rank, Caution: r.Caution}
	why, open := "", false
	for i, c := range r.When {
		switch holds, known := c.decide(f); {
		case !known && i == 0:
			return e, false
		case !known:
			open, why = true, first(why, f.why(c.Finding))
		case !holds:
			return e, false
		}
	}
	for _, name := range named(r.Text + r.Evidence) {
		if !f.known(name) {
			open, why = true, first(why, f.why(name))
		}
	}
	if open {
		if r.Open == "" {
			return e, false
		}
		e.Kind, e.Caution = Undetermined, ""
		e.Text, e.Evidence = r.Open, "Undetermined, because "+why+"."
		return e, true
	}
	e.Text, e.Evidence = f.fill(r.Text), f.fill(r.Evidence)
	if g, known := f[r.Gain]; known && !math.IsNaN(g.value) {
		e.Gain = &Gain{What: r.GainOf, Unit: g.unit, Value: analysis.Number(g.value), Low: analysis.Number(g.low), High: analysis.Number(g.high)}
	}
	return e, true
}

// decide is whether the condition holds; known is false where its finding is not known.
func (c condition) decide(f facts) (holds, known bool) {
	x := f[c.Finding]
	if !f.known(c.Finding) {
		return false, false
	}
	v := x.value
	switch c.Op {
	case surely:
		v = x.low
	case surelyNo:
		v = x.high
	}
	if math.IsNaN(v) {
		return false, false
	}
	if c.Op == below || c.Op == surelyNo {
		return v < c.Number, true
	}
	return v > c.Number, true
}

func (f facts) known(name string) bool {
	x, ok := f[name]
	return ok && (x.word != "" || !math.IsNaN(x.value) && !math.IsInf(x.value, 0))
}

func (f facts) why(name string) string {
	if w := f[name].why; w != "" {
		return w
	}
	return "the " + name + " is not known"
}

func first(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

var braces = regexp.MustCompile(`\{([^{}]+?)( ±)?\}`)

// named are the findings that a text names.
func named(text string) []string {
	var out []string
	for _, m := range braces.FindAllStringSubmatch(text, -1) {
		out = append(out, m[1])
	}
	return out
}

// fill puts the findings into a text.
func (f facts) fill(text string) string {
	return braces.ReplaceAllStringFunc(text, func(s string) string {
		m := braces.FindStringSubmatch(s)
		return f[m[1]].words(m[2] != "")
	})
}

// words writes a finding with its unit, and with its interval where that is asked for and
// known.
func (x finding) words(interval bool) string {
	if x.word != "" {
		return x.word
	}
	text := strings.TrimSpace(fmt.Sprintf("%.*f %s", x.places, x.value, x.unit))
	if interval && !math.IsNaN(x.low) && !math.IsNaN(x.high) {
		text += fmt.Sprintf(" (%.*f to %.*f)", x.places, x.low, x.places, x.high)
	}
	return text
}
