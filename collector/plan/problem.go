package plan

import (
	"fmt"
	"strings"
)

// Problem is one mistake in a plan and where it stands, both counted from 1.
type Problem struct {
	Line   int    `json:"line"`
	Column int    `json:"column"`
	Text   string `json:"text"`
}

// Problems are all mistakes of a file, in its order. It is the error that Parse gives.
type Problems struct {
	File string
	List []Problem
}

// Error gives one line a mistake: "file:line:column: what was expected".
func (p *Problems) Error() string {
	var lines []string
	for _, q := range p.List {
		lines = append(lines, fmt.Sprintf("%s:%d:%d: %s", p.File, q.Line, q.Column, q.Text))
	}
	return strings.Join(lines, "\n")
}
