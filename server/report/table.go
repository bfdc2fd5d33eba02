package report

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"soakline/analysis/ladder"
	"soakline/analysis/text"
)

// table is a table in words, for Markdown and for plain text.
type table struct {
	head []string
	rows [][]string
}

// tables are the tables of the report with their titles.
func (r *Report) tables() (titles []string, out []table) {
	add := func(title string, t table) {
		if len(t.rows) > 0 {
			titles, out = append(titles, title), append(out, t)
		}
	}
	add("Setup", r.setupTable())
	add("Runs (intervals are 90 %)", r.runTable())
	add("Changes against A, "+r.setups[0].name+" (intervals are 95 %)", r.changeTable())
	add(ladder.BeforeTitle, r.beforeTable())
	return titles, out
}

func (r *Report) setupTable() table {
	t := table{head: []string{"Condition"}}
	for _, s := range r.setups {
		t.head = append(t.head, s.letter)
	}
	for _, c := range r.conditions() {
		if !c.Differs && len(r.setups) > 1 {
			continue
		}
		line := []string{c.Key}
		for _, v := range c.Values {
			line = append(line, orNone(v))
		}
		t.rows = append(t.rows, line)
	}
	return t
}

func orNone(v string) string {
	if v == "" {
		return none
	}
	return v
}

func (r *Report) runTable() table {
	t := table{head: []string{"Figure"}}
	for _, run := range r.all() {
		t.head = append(t.head, run.label)
	}
	for _, row := range r.rows() {
		line := []string{withUnit(row.Name, row.Unit)}
		for _, c := range row.Cells {
			line = append(line, c.words())
		}
		t.rows = append(t.rows, line)
	}
	return t
}

func (r *Report) changeTable() table {
	t := table{head: []string{"Figure"}}
	for _, s := range r.setups[1:] {
		t.head = append(t.head, s.letter)
	}
	for _, c := range r.changeRows() {
		line := []string{withUnit(c.Name, c.Unit)}
		for _, cell := range c.Cells {
			line = append(line, cell.words())
		}
		t.rows = append(t.rows, line)
	}
	return t
}

func withUnit(name, unit string) string {
	if unit == "" {
		return name
	}
	return name + ", " + unit
}

// words is a cell on one line.
func (c cell) words() string {
	text := c.Value
	if c.Interval != "" {
		text += " (" + c.Interval + ")"
	}
	if c.Verdict != "" {
		text += ", " + c.Verdict
	}
	return text
}

// preface are the lines above the tables: what was asked, which setup is which, and what
// the analysis says of each run.
func (r *Report) preface() []string {
	out := []string{r.title()}
	if r.simulated() {
		out = append(out, "SIMULATED: these numbers are computed by a model of a machine, not measured.")
	}
	for i, s := range r.setups {
		for _, run := range s.runs {
			out = append(out, run.label+", "+s.name+": "+sentences(run))
		}
		if i > 0 {
			if why := r.changes[i-1].ThermalPath.Why; why != "" {
				out = append(out, s.letter+" against A: "+why+".")
			}
		}
	}
	return out
}

// sentences is the say-line of a run without the stamp, which stands above all.
func sentences(r run) string {
	var parts []string
	for _, p := range r.line.Parts {
		if p.Text != "SIMULATED." {
			parts = append(parts, p.Text)
		}
	}
	return strings.Join(parts, " ")
}

// notes are the warnings with the runs that they belong to.
func (r *Report) notes() []string {
	var out []string
	for _, run := range r.all() {
		for _, w := range run.result.Warnings {
			out = append(out, run.label+": "+w)
		}
	}
	for i, c := range r.changes {
		for _, w := range c.Warnings {
			out = append(out, r.setups[i+1].letter+" against A: "+strings.NewReplacer("between A and B", "between A and "+r.setups[i+1].letter).Replace(w))
		}
	}
	return out
}

// Markdown writes the tables in the form that most forums and trackers read (pipe
// tables of GitHub Flavored Markdown).
func (r *Report) Markdown(w io.Writer) error {
	var b strings.Builder
	for i, line := range r.preface() {
		if i == 0 {
			line = "## " + text.EscapeMarkdown(line)
		} else {
			line = text.EscapeMarkdown(line)
		}
		b.WriteString(line + "\n\n")
	}
	titles, tables := r.tables()
	for i, t := range tables {
		b.WriteString("**" + text.EscapeMarkdown(titles[i]) + "**\n\n")
		line := func(cells []string) {
			for _, c := range cells {
				b.WriteString("| " + text.EscapeMarkdown(c) + " ")
			}
			b.WriteString("|\n")
		}
		line(t.head)
		b.WriteString("| --- " + strings.Repeat("| ---: ", len(t.head)-1) + "|\n")
		for _, row := range t.rows {
			line(row)
		}
		b.WriteString("\n")
	}
	if next := r.nextLines(); len(next) > 0 {
		b.WriteString("**What next**\n\n")
		for i, n := range next {
			fmt.Fprintf(&b, "%d. %s\n", i+1, text.EscapeMarkdown(n))
		}
		b.WriteString("\n")
	}
	for _, n := range r.notes() {
		b.WriteString("- " + text.EscapeMarkdown(n) + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// Text writes the tables in columns, for a terminal or a mail.
func (r *Report) Text(w io.Writer) error {
	var b strings.Builder
	for _, line := range r.preface() {
		b.WriteString(line + "\n")
	}
	titles, tables := r.tables()
	for i, t := range tables {
		b.WriteString("\n" + titles[i] + "\n")
		t.columns(&b)
	}
	if next := r.nextLines(); len(next) > 0 {
		b.WriteString("\nWhat next\n")
		for i, n := range next {
			fmt.Fprintf(&b, "  %d. %s\n", i+1, n)
		}
	}
	if notes := r.notes(); len(notes) > 0 {
		b.WriteString("\nWarnings\n")
		for _, n := range notes {
			b.WriteString("  " + n + "\n")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// columns writes a table in columns, two blanks apart.
func (t table) columns(b *strings.Builder) {
	widths := make([]int, len(t.head))
	all := append([][]string{t.head}, t.rows...)
	for _, row := range all {
		for i, c := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(c))
		}
	}
	for _, row := range all {
		line := "  "
		for i, c := range row {
			line += c + strings.Repeat(" ", widths[i]-utf8.RuneCountInString(c)+2)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}
