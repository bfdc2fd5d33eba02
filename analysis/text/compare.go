package text

import (
	"fmt"
	"io"
	"regexp"
	"strings"

	"soakline/analysis"
	"soakline/analysis/compare"
)

// Verdict says in a sentence or two which part of the heat's way differs between two
// sides, called a and b.
func Verdict(c compare.Comparison, a, b string) string {
	t := c.ThermalPath
	near := fmt.Sprintf("the near part, die to block, %s", ratio(t.NearRatio, t.NearLow, t.NearHigh, a))
	far := fmt.Sprintf("the far part, block to reference, %s", ratio(t.FarRatio, t.FarLow, t.FarHigh, a))
	switch t.Verdict {
	case compare.Near:
		return fmt.Sprintf("The near part of the heat's way changed: in %s %s. The far part is the same.", b, near)
	case compare.Far:
		return fmt.Sprintf("The far part of the heat's way changed: in %s %s. The near part is the same.", b, far)
	case compare.Both:
		return fmt.Sprintf("Both parts of the heat's way changed: in %s %s; %s.", b, near, far)
	case compare.None:
		return fmt.Sprintf("No difference in the heat's way is shown: in %s %s; %s.", b, near, far)
	}
	return "What changed in the heat's way is undetermined: " + letters(t.Why, a, b) + "."
}

// sides finds the letters by which the comparison itself calls the two sides.
var sides = regexp.MustCompile(`\b[AB]\b`)

func letters(why, a, b string) string {
	return sides.ReplaceAllStringFunc(why, func(side string) string {
		if side == "A" {
			return a
		}
		return b
	})
}

func ratio(n, low, high analysis.Number, a string) string {
	if !n.Known() {
		return "is not known"
	}
	return fmt.Sprintf("has %.2f times the resistance of %s (%.2f to %.2f)", float64(n), a, float64(low), float64(high))
}

// Compare prints what differs between A and B: the verdict, the conditions, the figures
// with the 95 % intervals of their changes, the warnings. It returns the first error of w.
func Compare(w io.Writer, c compare.Comparison) error {
	p := &printer{}
	p.line("%s", Verdict(c, "A", "B"))
	p.line("")
	p.conditions(c.SetupChanges)
	for _, m := range c.Metrics {
		p.change(m)
	}
	if len(c.Metrics) == 0 {
		p.row("figures", "none that both sides have")
	}
	for _, warning := range c.Warnings {
		p.row("warning", "%s", warning)
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}

func (p *printer) conditions(changes []compare.SettingChange) {
	if len(changes) == 0 {
		p.row("setup", "the same, as far as it was noted")
	}
	for _, s := range changes {
		p.row("setup", "%s: %s -> %s", plain(s.Key), orNone(s.A), orNone(s.B))
	}
}

func orNone(v string) string {
	if v == "" {
		return "(not noted)"
	}
	return plain(v)
}

// plain keeps control characters of a name from the terminal.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 {
			return ' '
		}
		return r
	}, s)
}

func (p *printer) change(m compare.Metric) {
	p.line("%-28s %s -> %s, %s", m.Name, Value(m.A, places(m.Unit), m.Unit), Value(m.B, places(m.Unit), m.Unit), Changed(m))
	if m.Why != "" {
		p.line("%-28s %s", "", m.Why)
	}
}

// Changed says how much a figure changed and whether that is more than chance.
func Changed(m compare.Metric) string {
	if !m.ChangePct.Known() {
		return "change not known"
	}
	text := fmt.Sprintf("%+.1f %%", float64(m.ChangePct))
	if m.LowPct.Known() && m.HighPct.Known() {
		text += fmt.Sprintf(" (%+.1f to %+.1f)", float64(m.LowPct), float64(m.HighPct))
	}
	switch {
	case m.Real == nil:
		return text + ", real or chance: not known"
	case *m.Real:
		return text + ", real"
	}
	return text + ", no change shown"
}

func places(unit string) int {
	switch unit {
	case "K/W":
		return 2
	case "MHz", "rpm":
		return 0
	}
	return 1
}
