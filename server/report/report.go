package report

import (
	"fmt"
	"io/fs"
	"time"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/analysis/say"
	"soakline/collector/telemetry"
)

// Run is one session of a report.
type Run struct {
	Trace *telemetry.Trace
	ID    string // how the archive calls it, or the file's name
	Name  string // what its user calls it, or ""
	Host  string
}

// Input is what a report is made of.
type Input struct {
	Question string // what the job was to find out; untrusted text
	// Setups are the ways in which the machine was put together, each with its runs; the
	// first is what the others are held against.
	Setups [][]Run
	LimitC float64 // the temperature that the user will not exceed, degC; 0: not given
	// Anonymous leaves out what tells whose computer it was and when; see Left.
	Anonymous bool
	Made      time.Time
	Fonts     fs.FS // where the page's fonts are; nil takes the system's
}

// Report is a report ready to be written.
type Report struct {
	in      Input
	setups  []setup
	changes []compare.Comparison // of each further setup against the first
}

// setup is one setup with its analysed runs.
type setup struct {
	letter string // A, B, C ...
	name   string
	runs   []run
}

// run is one analysed session.
type run struct {
	Run
	label  string // A, or A1, A2 where a setup has several
	result analysis.Result
	line   say.Line
}

// Make analyses the sessions and compares each further setup with the first. There must
// be at least one session, and at most 26 setups.
func Make(in Input) (*Report, error) {
	r := &Report{in: in}
	if len(in.Setups) == 0 || len(in.Setups) > 26 {
		return nil, fmt.Errorf("a report takes 1 to 26 setups, here are %d", len(in.Setups))
	}
	for i, runs := range in.Setups {
		if len(runs) == 0 {
			return nil, fmt.Errorf("setup %c has no session", 'A'+i)
		}
		if in.Anonymous {
			runs = anonymous(runs)
		}
		r.setups = append(r.setups, analyse(string(rune('A'+i)), runs, in.LimitC))
	}
	r.name()
	first := r.setups[0].comparable()
	for _, s := range r.setups[1:] {
		r.changes = append(r.changes, compare.Compare(first, s.comparable(), compare.Options{}))
	}
	return r, nil
}

func analyse(letter string, runs []Run, limit float64) setup {
	s := setup{letter: letter}
	for k, in := range runs {
		label := letter
		if len(runs) > 1 {
			label = fmt.Sprintf("%s%d", letter, k+1)
		}
		result := analysis.Analyze(in.Trace, analysis.Options{LimitC: limit})
		s.runs = append(s.runs, run{in, label, result, say.Of(result)})
	}
	return s
}

func (s setup) comparable() []compare.Run {
	var out []compare.Run
	for _, r := range s.runs {
		out = append(out, compare.Run{Trace: r.Trace, Result: r.result})
	}
	return out
}

// all lists the runs of all setups.
func (r *Report) all() []run {
	var out []run
	for _, s := range r.setups {
		out = append(out, s.runs...)
	}
	return out
}

// simulated is true where any session is.
func (r *Report) simulated() bool {
	for _, run := range r.all() {
		if run.result.Simulated || run.Trace.Simulated {
			return true
		}
	}
	return false
}

// title is the job's question, or what stands in for it.
func (r *Report) title() string {
	if q := clean(r.in.Question); q != "" {
		return q
	}
	if len(r.setups) == 1 {
		return "What holds this machine back?"
	}
	return "What did the change bring?"
}
