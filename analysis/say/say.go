// Package say puts a Result into words: the say-line that stands at the top of the page
// and of the report. It decides nothing; every number in a sentence is one of the
// Result's, with its unit and, where it is an estimate, its interval.
package say

import (
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
}

// Of puts a result into words. Numbers are rounded to what their intervals bear, so
// that the line changes when the finding does and not with every sample.
func Of(r analysis.Result) Line {
	var l Line
	add := func(p Part) {
		if p.Text != "" {
			l.Parts = append(l.Parts, p)
		}
	}
	if r.Simulated {
		add(Part{"SIMULATED.", "These numbers are computed by a model of a machine, not measured."})
	}
	add(present(r))
	if resting(r) {
		add(past(r))
	}
	if len(r.Load) > 0 {
		add(room(r))
		add(heating(r))
	}
	texts := make([]string, len(l.Parts))
	for i, p := range l.Parts {
		texts[i] = p.Text
	}
	l.Text = strings.Join(texts, " ")
	return l
}
