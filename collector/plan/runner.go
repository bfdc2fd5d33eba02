package plan

import (
	"math"
	"slices"
)

// Row is what the runner is told of one tick. A temperature without a value is NaN.
type Row struct {
	At             float64 // s, of the session
	DieC, CoolantC float64
	Done           float64 // units of work since the load began; 0 where nothing counts
	Ended          string  // why the load ended by itself; "" while it runs
	Failed         bool    // and that it should not have
}

// Deed is one thing that the runner wants done.
type Deed struct {
	Do    Do
	Work  *Work  // of Start and Adjust
	Text  string // of Note, Alarm, Question and Finish; of End why
	Phase int    // index of the phase that it belongs to
}

// Do is the kind of a deed.
type Do string

// The deeds.
const (
	Start    Do = "start"    // the load
	Adjust   Do = "adjust"   // the share of the time that the own load works
	End      Do = "end"      // the load, at once
	Note     Do = "note"     // a mark
	Alarm    Do = "alarm"    // a mark that the user has to hear of
	Question Do = "question" // to the user; Answer goes on
	Finish   Do = "finish"   // the run is over
)

// Span is a phase that was begun.
type Span struct {
	Phase      int     // index
	StartS     float64 // s, of the session
	EndS       float64 // NaN while it goes on
	PausedS    float64
	Whole      bool   // it came to its own end
	Why        string // it ended
	OverLonger bool   // its condition did not hold within the longest time
}

// Runner goes through the phases of one run. It is for one goroutine, or under a lock.
type Runner struct {
	phases []Phase
	guard  Guard
	seen   []float64 // how long each phase took in an earlier run, s; NaN unknown

	i       int // present phase
	begun   bool
	over    bool
	loadOn  bool
	tripped bool // only a cooling may follow
	why     string

	paused     bool
	pausedFrom float64
	now        float64
	trend      trend
	spans      []Span

	wantSkip, wantStop, wantTurn bool // turn: pause or go on
	answered                     bool
}

// NewRunner starts a run at its first phase. earlier are the spans of a run of the same
// phases, for the time left; nil is none.
func NewRunner(phases []Phase, g Guard, earlier []Span) *Runner {
	r := &Runner{phases: phases, guard: g, seen: make([]float64, len(phases))}
	for i := range r.seen {
		r.seen[i] = math.NaN()
	}
	for _, s := range earlier {
		if s.Whole && s.Phase < len(r.seen) {
			r.seen[s.Phase] = s.EndS - s.StartS - s.PausedS
		}
	}
	return r
}

// Step takes the next row and says what is to be done, in order.
func (r *Runner) Step(row Row) []Deed {
	var out []Deed
	if r.over {
		return nil
	}
	r.now = row.At
	if !r.begun {
		r.begun = true
		out = r.begin(out, row)
	}
	for !r.over {
		n := len(r.spans)
		if out = r.look(out, row); len(r.spans) == n { // no new phase began
			return out
		}
	}
	return out
}

// look does what the present phase asks for at this row.
func (r *Runner) look(out []Deed, row Row) []Deed {
	p := &r.phases[r.i]
	r.trend.add(row.At, row.DieC)
	if r.loadOn {
		if why := r.guard.trip(row.At, row.DieC); why != "" {
			return r.trip(out, row, why)
		}
		if row.Ended != "" && row.Failed {
			return r.trip(out, row, row.Ended)
		}
	}
	switch {
	case r.wantStop:
		out = r.end(out, row, false, "stopped by the user")
		return r.finish(out, "stopped by the user")
	case r.wantSkip:
		r.wantSkip = false
		return r.next(r.end(out, row, false, "skipped by the user"), row)
	case p.Kind == Ask:
		if r.answered {
			r.answered = false
			return r.next(r.end(out, row, true, "answered"), row)
		}
		return out
	case r.wantTurn:
		return r.turn(out, row)
	case r.paused:
		return out
	}
	if why, whole := r.ends(p, row); why != "" {
		return r.next(r.end(out, row, whole, why), row)
	}
	return out
}

// begin starts the present phase.
func (r *Runner) begin(out []Deed, row Row) []Deed {
	p := &r.phases[r.i]
	before := r.guard
	if p.Kind == Load && !r.loadOn {
		if why := r.guard.begin(row.At, row.DieC); why != "" {
			r.guard = before
			return r.trip(out, row, why)
		}
	}
	r.spans = append(r.spans, Span{Phase: r.i, StartS: row.At, EndS: math.NaN()})
	r.trend.begin(row.At, p.Until.Over.Seconds())
	out = append(out, Deed{Do: Note, Text: r.beginText(p), Phase: r.i})
	switch {
	case p.Kind == Ask:
		out = append(out, Deed{Do: Question, Text: p.Text, Phase: r.i})
	case p.Kind == Load && r.loadOn:
		out = append(out, Deed{Do: Adjust, Work: p.Work, Phase: r.i})
	case p.Kind == Load:
		r.loadOn = true
		out = append(out, Deed{Do: Start, Work: p.Work, Phase: r.i})
	}
	return out
}

// end closes the present phase, and its load unless the next phase only changes its share.
func (r *Runner) end(out []Deed, row Row, whole bool, why string) []Deed {
	if r.paused {
		r.goOn(row.At)
	}
	s := &r.spans[len(r.spans)-1]
	s.EndS, s.Whole, s.Why = row.At, whole, why
	r.wantTurn = false
	if r.loadOn && !(whole && r.stepFollows()) {
		r.loadOn = false
		out = append(out, Deed{Do: End, Text: why, Phase: r.i})
	}
	return append(out, Deed{Do: Note, Text: r.endText(s), Phase: r.i})
}

// stepFollows is true where the next phase is the next step of the same load.
func (r *Runner) stepFollows() bool {
	return r.i+1 < len(r.phases) && r.phases[r.i+1].Step > r.phases[r.i].Step && r.phases[r.i].Step > 0
}

// next goes to the phase after the present one.
func (r *Runner) next(out []Deed, row Row) []Deed {
	s := r.spans[len(r.spans)-1]
	if r.phases[r.i].Until.Kind == DieBelowLimit && s.Why == reachedText && r.stepFollows() {
		r.leaveLadder()
		if r.loadOn {
			r.loadOn = false
			out = append(out, Deed{Do: End, Text: s.Why, Phase: r.i})
		}
	}
	if r.i+1 >= len(r.phases) {
		return r.finish(out, "the run is complete")
	}
	r.i++
	if r.tripped && r.phases[r.i].Kind != Cool {
		return r.finish(out, r.why)
	}
	return r.begin(out, row)
}

// leaveLadder goes to the last of the steps that follow: none of them is begun.
func (r *Runner) leaveLadder() {
	for r.stepFollows() {
		r.i++
	}
}

// trip ends the load because of the guard or a fault; only the next cooling follows.
func (r *Runner) trip(out []Deed, row Row, why string) []Deed {
	r.tripped, r.why = true, "ended early: "+why
	if r.loadOn {
		r.loadOn = false
		out = append(out, Deed{Do: End, Text: why, Phase: r.i})
	}
	out = append(out, Deed{Do: Alarm, Text: alarmText + why + "; the load is off", Phase: r.i})
	if n := len(r.spans); n > 0 && math.IsNaN(r.spans[n-1].EndS) {
		out = r.end(out, row, false, why)
	}
	for r.i+1 < len(r.phases) {
		if r.i++; r.phases[r.i].Kind == Cool {
			return r.begin(out, row)
		}
	}
	return r.finish(out, r.why)
}

func (r *Runner) finish(out []Deed, why string) []Deed {
	if r.loadOn {
		r.loadOn = false
		out = append(out, Deed{Do: End, Text: why, Phase: r.i})
	}
	r.over = true
	if r.why == "" {
		r.why = why
	}
	return append(out, Deed{Do: Finish, Text: r.why, Phase: r.i})
}

// turn pauses the present phase, or lets it go on. A load of soakline's own stands still
// meanwhile.
func (r *Runner) turn(out []Deed, row Row) []Deed {
	r.wantTurn = false
	p := &r.phases[r.i]
	if r.paused {
		if p.Kind == Load {
			if why := r.guard.begin(row.At, row.DieC); why != "" {
				return r.trip(out, row, why)
			}
			r.loadOn = true
			out = append(out, Deed{Do: Start, Work: p.Work, Phase: r.i})
		}
		r.goOn(row.At)
		return append(out, Deed{Do: Note, Text: "plan: goes on", Phase: r.i})
	}
	r.paused, r.pausedFrom = true, row.At
	if r.loadOn {
		r.loadOn = false
		out = append(out, Deed{Do: End, Text: "paused by the user", Phase: r.i})
	}
	return append(out, Deed{Do: Note, Text: "plan: paused by the user", Phase: r.i})
}

func (r *Runner) goOn(at float64) {
	r.paused = false
	r.spans[len(r.spans)-1].PausedS += at - r.pausedFrom
	r.trend.begin(at, r.trend.spanS)
}

const reachedText = "the condition held"

// ends says why the present phase is over, and whether it came to its own end; "" where
// it goes on.
func (r *Runner) ends(p *Phase, row Row) (why string, whole bool) {
	took := r.elapsed()
	switch {
	case r.loadOn && row.Ended != "":
		return row.Ended, true
	case p.For > 0 && took >= p.For.Seconds()-1e-6:
		return "the time was over", true
	case p.Until.Kind != Never && r.holds(p.Until, row):
		return reachedText, true
	case p.Longest > 0 && took >= p.Longest.Seconds()-1e-6:
		r.spans[len(r.spans)-1].OverLonger = true
		return "the longest time was over before the condition held", true
	}
	return "", false
}

// holds is true where the condition holds now; it never does without a value.
func (r *Runner) holds(c Condition, row Row) bool {
	switch c.Kind {
	case Settled:
		return math.Abs(r.trend.change()) <= c.Within
	case DieBelow:
		return row.DieC < c.Value
	case CoolantBelow:
		return row.CoolantC < c.Value
	case DieNear:
		return row.DieC-row.CoolantC <= c.Value
	case DieBelowLimit:
		return r.guard.LimitC > 0 && row.DieC >= r.guard.LimitC-c.Value
	case WorkDone:
		return c.Value > 0 && row.Done >= c.Value
	}
	return false
}

// elapsed is how long the present phase has gone on, pauses aside, s.
func (r *Runner) elapsed() float64 {
	if len(r.spans) == 0 {
		return 0
	}
	s := &r.spans[len(r.spans)-1]
	end := s.EndS
	if math.IsNaN(end) {
		end = r.now
	}
	if r.paused {
		end = r.pausedFrom
	}
	return end - s.StartS - s.PausedS
}

// Spans gives the phases that were begun.
func (r *Runner) Spans() []Span { return slices.Clone(r.spans) }

// Present is the index of the present phase.
func (r *Runner) Present() int { return r.i }

// Over says whether the run is over, and why.
func (r *Runner) Over() (why string, over bool) { return r.why, r.over }

// Loaded is true while a load of the plan runs, Paused while a phase is held, Tripped
// after the guard ended a load.
func (r *Runner) Loaded() bool  { return r.loadOn }
func (r *Runner) Paused() bool  { return r.paused }
func (r *Runner) Tripped() bool { return r.tripped }

// Elapsed is how long the present phase has gone on, pauses aside, s.
func (r *Runner) Elapsed() float64 { return r.elapsed() }
