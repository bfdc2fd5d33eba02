package ladder

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/analysis/text"
)

// Table is a table in words.
type Table struct {
	Title string
	Head  []string
	Rows  [][]string
}

// BeforeTitle is the title of the table of changes from one setup to the next.
const BeforeTitle = "Changes against the one before (95 % intervals)"

// Tables are the ladder rung by rung, and all its figures.
func (l Ladder) Tables() []Table {
	if len(l.Rungs) == 0 {
		return nil
	}
	main := Table{Title: "Setups in the order tried (figures: 90 % intervals)", Head: []string{"Setup", "Runs", "What changed", "Held by"}}
	lead := l.Leading()
	for _, name := range lead {
		main.Head = append(main.Head, withUnit(name, l.unit(name)))
	}
	for i, r := range l.Rungs {
		title := r.Letter + ", " + clean(r.Name)
		if i == l.Stock {
			title += " (stock)"
		}
		row := []string{title, strconv.Itoa(len(r.Runs)), orDash(clean(Changes(r.Changed))), heldWords(r.Held)}
		for _, name := range lead {
			f, _ := r.known(name)
			row = append(row, f.Words())
		}
		main.Rows = append(main.Rows, row)
	}
	out := []Table{main}
	for _, against := range []string{"stock", "before"} {
		t := Table{Title: BeforeTitle, Head: []string{"Figure"}}
		if against == "stock" {
			t.Title = "Changes against stock, " + l.Rungs[l.Stock].Letter + " (95 % intervals)"
		} else if len(l.Rungs) < 3 && l.Stock == 0 {
			continue
		}
		for i, r := range l.Rungs {
			if against == "stock" && i != l.Stock || against != "stock" && i > 0 {
				t.Head = append(t.Head, r.Letter)
			}
		}
		for _, name := range l.names() {
			row := []string{name}
			for i, r := range l.Rungs {
				if against == "stock" && i != l.Stock || against != "stock" && i > 0 {
					row = append(row, r.change(name, against == "stock"))
				}
			}
			t.Rows = append(t.Rows, row)
		}
		if len(t.Head) > 1 {
			out = append(out, t)
		}
	}
	return out
}

// Leading are the few figures that stand beside each setup: what was achieved, at which
// power, how hot at equal power, through which parts.
func (l Ladder) Leading() []string {
	var out []string
	for _, name := range l.names() {
		score := !isFixed(name) && len(out) == 0
		switch name {
		case "throughput", "sustained power", "die over reference at stock's power", "near part", "far part":
			out = append(out, name)
		default:
			if score {
				out = append(out, name)
			}
		}
	}
	return out
}

func isFixed(name string) bool {
	for _, f := range fixed {
		if f.name == name {
			return true
		}
	}
	return false
}

// names are the figures that any rung has, in order.
func (l Ladder) names() []string {
	var out []string
	for _, f := range l.Rungs[0].Figures {
		out = append(out, f.Name)
	}
	return out
}

func (l Ladder) unit(name string) string {
	for _, f := range l.Rungs[0].Figures {
		if f.Name == name {
			return f.Unit
		}
	}
	return ""
}

// Words is a figure with its interval, without the unit.
func (f Figure) Words() string {
	if !f.Value.Known() {
		return "–"
	}
	places := Places(f)
	text := fmt.Sprintf("%.*f", places, float64(f.Value))
	if f.Low.Known() && f.High.Known() {
		text += fmt.Sprintf(" (%.*f to %.*f)", places, float64(f.Low), places, float64(f.High))
	}
	return text
}

// Places is how many decimals a figure bears.
func Places(f Figure) int {
	switch {
	case f.Unit == "K/W" && f.Value < 0.2:
		return 3
	case f.Unit == "K/W":
		return 2
	case f.Value >= 1000:
		return 0
	case f.Value < 10:
		return 2
	}
	return 1
}

func (r Rung) change(name string, stock bool) string {
	f, _ := r.known(name)
	m := f.Before
	if stock {
		m = f.Stock
	}
	if m == nil {
		return "–"
	}
	return ChangeWords(*m)
}

// ChangeWords is a change with its interval and whether it is more than chance.
func ChangeWords(m compare.Metric) string {
	if !m.ChangePct.Known() {
		return "–"
	}
	text := fmt.Sprintf("%+.1f %%", float64(m.ChangePct))
	if m.LowPct.Known() && m.HighPct.Known() {
		text += fmt.Sprintf(" (%+.1f to %+.1f)", float64(m.LowPct), float64(m.HighPct))
	}
	switch {
	case m.Real == nil:
		return text + ", one run"
	case *m.Real:
		return text + ", real"
	}
	return text + ", not shown"
}

var held = map[analysis.Kind]string{analysis.PowerLong: "long-term limit", analysis.PowerShort: "short-term limit", analysis.Thermal: "heat",
	analysis.Clock: "highest clock", analysis.Current: "current limit", analysis.Other: "another limit"}

func heldWords(hs []Held) string {
	var parts []string
	for _, h := range hs {
		if h.Pct >= 0.5 {
			parts = append(parts, fmt.Sprintf("%s %.0f %%", held[h.Kind], float64(h.Pct)))
		}
	}
	return orDash(strings.Join(parts, ", "))
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

func withUnit(name, unit string) string {
	if unit == "" {
		return clean(name)
	}
	return clean(name) + ", " + clean(unit)
}

// clean makes untrusted text fit for one line.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r):
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
	return strings.Join(strings.Fields(s), " ")
}

// lines are the sentences, the drift and the warnings.
func (l Ladder) lines() (out []string) {
	for _, r := range l.Rungs {
		out = append(out, r.Letter+": "+clean(r.Say))
		for _, w := range r.Warnings {
			out = append(out, r.Letter+": "+clean(w))
		}
	}
	for _, d := range l.Drift {
		if d.Real != nil && !*d.Real && !isFixed(d.Name) || d.Name == "sustained power" || d.Name == "throughput" {
			out = append(out, "Across the series, "+clean(d.Name)+": "+d.Say)
		}
	}
	for _, w := range l.Warnings {
		out = append(out, clean(w))
	}
	return out
}

// heading stands above all.
func (l Ladder) heading() string {
	text := "Ladder of setups"
	if l.Machine != "" {
		text += " of " + clean(l.Machine)
	}
	if l.Simulated {
		text += " (SIMULATED: computed by a model of a machine, not measured)"
	}
	return text
}

// Text writes the ladder for a terminal. It returns the first error of w.
func (l Ladder) Text(w io.Writer) error {
	var b strings.Builder
	b.WriteString(l.heading() + "\n")
	for _, line := range l.lines() {
		b.WriteString(line + "\n")
	}
	for i, t := range l.Tables() {
		if i == 0 {
			t = t.without(2) // the sentences say what changed
		}
		b.WriteString("\n" + t.Title + "\n")
		widths := make([]int, len(t.Head))
		rows := append([][]string{t.Head}, t.Rows...)
		for _, row := range rows {
			for i, c := range row {
				widths[i] = max(widths[i], utf8.RuneCountInString(c))
			}
		}
		for _, row := range rows {
			line := "  "
			for i, c := range row {
				line += c + strings.Repeat(" ", widths[i]-utf8.RuneCountInString(c)+2)
			}
			b.WriteString(strings.TrimRight(line, " ") + "\n")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// without leaves a column out.
func (t Table) without(column int) Table {
	out := Table{Title: t.Title, Head: slices.Delete(slices.Clone(t.Head), column, column+1)}
	for _, row := range t.Rows {
		out.Rows = append(out.Rows, slices.Delete(slices.Clone(row), column, column+1))
	}
	return out
}

// Markdown writes the ladder as pipe tables (GitHub Flavored Markdown). It returns the first
// error of w.
func (l Ladder) Markdown(w io.Writer) error {
	var b strings.Builder
	b.WriteString("## " + text.EscapeMarkdown(l.heading()) + "\n\n")
	for _, line := range l.lines() {
		b.WriteString("- " + text.EscapeMarkdown(line) + "\n")
	}
	for _, t := range l.Tables() {
		b.WriteString("\n**" + text.EscapeMarkdown(t.Title) + "**\n\n")
		for i, row := range append([][]string{t.Head}, t.Rows...) {
			for _, c := range row {
				b.WriteString("| " + text.EscapeMarkdown(c) + " ")
			}
			b.WriteString("|\n")
			if i == 0 {
				b.WriteString(strings.Repeat("| --- ", len(t.Head)) + "|\n")
			}
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// CSV writes one row a setup and figure (RFC 4180); what is not known is empty. It returns
// the first error of w.
func (l Ladder) CSV(w io.Writer) error {
	out := csv.NewWriter(w)
	out.Write([]string{"setup", "name", "stock", "changed", "figure", "unit", "better", "runs", "value", "low_90", "high_90",
		"against_stock_pct", "against_stock_low_95", "against_stock_high_95", "against_stock_real",
		"against_before_pct", "against_before_low_95", "against_before_high_95", "against_before_real"})
	for i, r := range l.Rungs {
		stock := ""
		if i == l.Stock {
			stock = "stock"
		}
		for _, f := range r.Figures {
			row := []string{r.Letter, clean(r.Name), stock, clean(Changes(r.Changed)), clean(f.Name), clean(f.Unit), string(f.Better), strconv.Itoa(f.N), num(f.Value), num(f.Low), num(f.High)}
			out.Write(append(append(row, changeCells(f.Stock)...), changeCells(f.Before)...))
		}
		for _, h := range r.Held {
			out.Write([]string{r.Letter, clean(r.Name), stock, clean(Changes(r.Changed)), "held by " + held[h.Kind], "%", "", strconv.Itoa(len(r.Runs)), num(h.Pct), "", "", "", "", "", "", "", "", "", ""})
		}
	}
	out.Flush()
	return out.Error()
}

func changeCells(m *compare.Metric) []string {
	if m == nil {
		return []string{"", "", "", ""}
	}
	real := ""
	if m.Real != nil {
		real = strconv.FormatBool(*m.Real)
	}
	return []string{num(m.ChangePct), num(m.LowPct), num(m.HighPct), real}
}

func num(n analysis.Number) string {
	if !n.Known() {
		return ""
	}
	return strconv.FormatFloat(float64(n), 'g', 6, 64)
}
