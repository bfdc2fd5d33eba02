package report

import (
	"html/template"

	"soakline/analysis/compare"
	"soakline/analysis/ladder"
	"soakline/analysis/next"
	"soakline/server/picture"
)

// rungView is a setup of the ladder in words.
type rungView struct{ Letter, Name, Say string }

// ladderView is the ladder of the report's setups.
type ladderView struct {
	Picture template.HTML
	Rungs   []rungView
	Notes   []string
}

// ladder orders the setups as they were named, the first as stock. ok is false below two
// setups.
func (r *Report) ladder() (l ladder.Ladder, ok bool) {
	if len(r.setups) < 2 {
		return l, false
	}
	var setups [][]ladder.Run
	for _, s := range r.setups {
		var runs []ladder.Run
		for _, c := range s.comparable() {
			runs = append(runs, ladder.Run{Run: c, Name: s.name})
		}
		setups = append(setups, runs)
	}
	l, err := ladder.Of(setups, ladder.Options{Stock: "A", Quick: true, Known: func(a, b int) (compare.Comparison, bool) {
		if a != 0 || b < 1 || b > len(r.changes) {
			return compare.Comparison{}, false
		}
		return r.changes[b-1], true
	}})
	return l, err == nil
}

func (r *Report) fillLadder(v *view) {
	if l, ok := r.ladder(); ok {
		out := ladderView{Picture: svg(picture.Ladder(l, picture.Options{ID: "l"})), Notes: l.Warnings}
		for _, rung := range l.Rungs {
			out.Rungs = append(out.Rungs, rungView{rung.Letter, rung.Name, clean(rung.Say)})
		}
		v.Ladder = &out
	}
	v.Next, v.NextOf = r.next()
}

// next is what to do next after the last run of the last setup, and which run that is.
func (r *Report) next() ([]next.Entry, string) {
	last := r.setups[len(r.setups)-1]
	run := last.runs[len(last.runs)-1]
	in := next.Input{Result: run.result, Trace: run.Trace, Runs: len(last.runs)}
	if n := len(r.changes); n > 0 {
		in.Earlier = &r.changes[n-1]
	}
	return next.Of(in).Entries, run.label
}

// nextLines are the advice for Markdown and for plain text.
func (r *Report) nextLines() []string {
	var out []string
	entries, _ := r.next()
	for _, e := range entries {
		line := clean(e.Text) + " " + clean(e.Evidence)
		if e.Gain != nil {
			line += " Expected: " + e.Gain.Words() + "."
		}
		if e.Caution != "" {
			line += " Caution: " + e.Caution
		}
		out = append(out, line)
	}
	return out
}

// beforeTable is each setup against the one before; empty below three setups, where it
// would say what stands there already.
func (r *Report) beforeTable() table {
	l, ok := r.ladder()
	if !ok || len(l.Rungs) < 3 {
		return table{}
	}
	for _, t := range l.Tables() {
		if t.Title == ladder.BeforeTitle {
			return table{t.Head, t.Rows}
		}
	}
	return table{}
}
