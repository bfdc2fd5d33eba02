package tracefile

import (
	"fmt"
	"strconv"
	"unicode/utf8"
)

// Error says where a trace file cannot be read and what was expected there.
type Error struct {
	File   string // the file's name, "trace" if it has none
	Line   int    // counts from 1
	Column int    // characters from the start of the line, counts from 1
	Want   string // what was expected: "a number in W"
	Found  string // what stands there instead: `"abc"`
}

func (e *Error) Error() string {
	return fmt.Sprintf("%s:%d:%d: expected %s, found %s", e.File, e.Line, e.Column, e.Want, e.Found)
}

// shown quotes untrusted text for a message, shortened to what a person can read.
func shown(b []byte) string {
	const most = 40
	if utf8.RuneCount(b) <= most {
		return strconv.Quote(string(b))
	}
	n := 0
	for range most {
		_, w := utf8.DecodeRune(b[n:])
		n += w
	}
	return strconv.Quote(string(b[:n])) + "..."
}
