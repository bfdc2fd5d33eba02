// Package say puts a Result into words: the say-line that stands at the top of the page
// and of the report. It decides nothing; every number in a sentence is one of the
// Result's, with its unit and, where it is an estimate, its interval.
package say

import "soakline/analysis"

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

// Of puts a result into words.
func Of(r analysis.Result) Line { return Line{} }
