package main

import (
	"bytes"
	"fmt"
	"regexp"
	"strconv"
	"sync"

	"soakline/collector/telemetry"
)

// scoreFlags read a score out of the words of the user's own load.
type scoreFlags struct {
	Score       string `help:"Read the run's score from the command's output: a regular expression whose first group is the number, its second the unit. The last line that fits counts." placeholder:"PATTERN"`
	ScoreUnit   string `help:"The score's unit, where the pattern has no second group." placeholder:"UNIT"`
	ScoreName   string `help:"What the score is called." default:"score" placeholder:"NAME"`
	ScoreBetter string `help:"Which is better: higher or lower. Needed with --score." enum:"higher,lower," default:"" placeholder:"higher|lower"`
}

// pattern compiles the expression; nil where none was given.
func (f scoreFlags) pattern() (*regexp.Regexp, error) {
	if f.Score == "" {
		return nil, nil
	}
	p, err := regexp.Compile(f.Score)
	switch {
	case err != nil:
		return nil, usage(fmt.Errorf("--score: %w", err))
	case p.NumSubexp() < 1:
		return nil, usage(fmt.Errorf(`--score %q: put the number in brackets, for instance --score 'Total: ([0-9.]+) points'`, f.Score))
	case f.ScoreBetter == "":
		return nil, usage(fmt.Errorf("--score: say with --score-better whether higher or lower is better"))
	}
	return p, nil
}

// scoreFinder looks through what is written to it, line by line. Two streams of a
// command may write to it at once, each through a line of its own.
type scoreFinder struct {
	flags   scoreFlags
	pattern *regexp.Regexp

	mu    sync.Mutex
	found *telemetry.Score
}

// maxLine is how much of a line is looked at.
const maxLine = 64 << 10

// lineWriter cuts a stream into lines for its finder.
type lineWriter struct {
	finder *scoreFinder
	line   []byte
}

func (w *lineWriter) Write(b []byte) (int, error) {
	for rest := b; len(rest) > 0; {
		end := bytes.IndexAny(rest, "\r\n") // a carriage return alone ends a line of progress
		part := rest
		if end >= 0 {
			part, rest = rest[:end], rest[end+1:]
		} else {
			rest = nil
		}
		w.line = append(w.line, part[:min(len(part), maxLine-len(w.line))]...)
		if end >= 0 {
			w.flush()
		}
	}
	return len(b), nil
}

// flush looks at the line so far.
func (w *lineWriter) flush() {
	w.finder.look(w.line)
	w.line = w.line[:0]
}

func (f *scoreFinder) look(line []byte) {
	m := f.pattern.FindSubmatch(line)
	if m == nil {
		return
	}
	v, err := strconv.ParseFloat(string(m[1]), 64)
	if err != nil {
		return
	}
	sc := telemetry.Score{Name: f.flags.ScoreName, Value: v, Unit: f.flags.ScoreUnit, HigherIsBetter: f.flags.ScoreBetter == "higher", At: -1}
	if len(m) > 2 && len(m[2]) > 0 {
		sc.Unit = string(m[2])
	}
	f.mu.Lock()
	f.found = &sc
	f.mu.Unlock()
}
