// Package say puts a Result into words: the say-line that stands at the top of the page
// and of the report. It decides nothing; every number in a sentence is one of the
// Result's, with its unit and, where it is an estimate, its interval.
package say

import (
	"math"
	"strings"

	"soakline/analysis"
)

// Line is what can be said now.
type Line struct {
	Text  string `json:"text"`  // one to three short sentences, readable from three metres
	Parts []Part `json:"parts"` // the same, sentence by sentence, each with its evidence
}

// Part is one sentence and what it rests on.
type Part struct {
	Text     string `json:"text"`
	Evidence string `json:"evidence"` // spans, figures and method behind it, in plain words

	form    string   // which sentence it is, numbers apart
	figures []figure // its numbers before rounding
}

// figure is a number of a sentence and by how much it may move before the sentence
// counts as another one.
type figure struct{ value, slack float64 }

// Of puts a result into words. Numbers are rounded to what their intervals bear, so
// that the line changes when the finding does and not with every sample.
func Of(r analysis.Result) Line { return Next(Line{}, r) }

// Next is Of for a viewer who has just read was: a sentence whose numbers have moved by
// less than about one step of their rounding stays as it was, and of two sentences
// between which the figures waver the one that was said stays until the other is clearly
// true. It depends on nothing but was and r.
func Next(was Line, r analysis.Result) Line {
	w := writer{Result: r, was: was}
	parts := []Part{}
	if r.Simulated {
		parts = append(parts, Part{Text: "SIMULATED.", Evidence: "These numbers are computed by a model of a machine, not measured."})
	}
	parts = append(parts, w.present())
	if len(r.Load) > 0 {
		if w.resting() {
			parts = append(parts, w.past())
		}
		parts = append(parts, w.alarm(), w.fan(), w.room(), w.heating(), w.window())
	}
	var l Line
	var texts []string
	for _, p := range parts {
		if p.Text != "" {
			p = p.keep(was)
			l.Parts, texts = append(l.Parts, p), append(texts, p.Text)
		}
	}
	l.Text = strings.Join(texts, " ")
	return l
}

// writer is a result with the line before it.
type writer struct {
	analysis.Result
	was Line
}

// said is true where the line before had a sentence of this form.
func (w *writer) said(form string) bool {
	for i := range w.was.Parts {
		if w.was.Parts[i].form == form {
			return true
		}
	}
	return false
}

// keep gives the part the words of the same sentence before, where these are still right.
func (p Part) keep(was Line) Part {
	for _, old := range was.Parts {
		if p.form == "" || old.form != p.form || len(old.figures) != len(p.figures) {
			continue
		}
		for i, f := range p.figures {
			if !(math.Abs(f.value-old.figures[i].value) <= f.slack) {
				return p
			}
		}
		p.Text, p.figures = old.Text, old.figures
	}
	return p
}
