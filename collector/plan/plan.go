package plan

import (
	"fmt"
	"strings"
	"time"

	"soakline/collector/telemetry"
)

// Plan is a whole measurement. One pass through its phases is a run; every run is
// recorded as a session of its own.
type Plan struct {
	Name, About string
	LimitC      float64 // the die temperature not to be exceeded, degC; 0 where the plan names none
	Runs        int     // runs in each turn of a setup
	Setups      []Setup // none: the machine as it is
	Order       Order
	Sequence    []string // the setups one by one, where Order is Listed
	Rounds      int      // how often each setup has its turn
	Seed        uint64   // of a random order
	Phases      []Phase  // repeats written out
}

// Setup is one way in which the machine is put together for some of the runs.
type Setup struct {
	Name     string
	Settings []telemetry.Setting
}

// Order is how the turns of several setups follow one another.
type Order string

// The orders. With A and B: A B A B, A B B A, either of the two a block, or as listed.
const (
	InTurn   Order = "in turn"
	Mirrored Order = "mirrored" // every second round backwards, so that a steady drift cancels
	Random   Order = "random"   // each block of one turn a setup shuffled for itself
	Listed   Order = "listed"
)

// Kind is what a phase is for.
type Kind string

// The kinds of phase.
const (
	Rest   Kind = "rest"
	Load   Kind = "load"
	Cool   Kind = "cool"
	Ask    Kind = "ask" // a question to the person at the bench
	Repeat Kind = "repeat"
)

// Phase is one part of a run. It ends after For, or when Until holds, after Longest at
// the latest.
type Phase struct {
	Kind    Kind
	For     time.Duration // 0 where Until says it
	Until   Condition
	Longest time.Duration
	Work    *Work  // of a load
	Text    string // of a question
	Setting string // the condition of the setup that the answer becomes; "" keeps it as a mark only
	Step    int    // place among the steps of one load, from 1; 0: it has none
}

// Work is the load of a phase: a command of the user's, or soakline's own.
type Work struct {
	Command []string
	Own     string        // what the own load computes, as package load reads it: "integer+memory"
	Cores   int           // logical processors, 0 is all
	Pinned  bool          // each of them held to one processor
	DutyPct float64       // busy share of the time, %
	Cycle   time.Duration // in which that share is kept
}

// atMost is the longest that the phase may take; 0 where a person decides.
func (p *Phase) atMost() time.Duration {
	if p.For > 0 {
		return p.For
	}
	return p.Longest
}

// Title is the phase in words: "load: vector on all processors, 60 % of the time".
func (p *Phase) Title() string {
	switch {
	case p.Kind == Ask:
		return "ask: " + p.Text
	case p.Work != nil:
		return string(p.Kind) + ": " + p.Work.String()
	}
	return string(p.Kind)
}

// Ends is when the phase ends, in words.
func (p *Phase) Ends() string {
	switch {
	case p.Kind == Ask:
		return "when it is answered"
	case p.For > 0:
		return "after " + p.For.String()
	}
	return fmt.Sprintf("%s, after %v at the latest", p.Until.String(), p.Longest)
}

func (w *Work) String() string {
	if len(w.Command) > 0 {
		return strings.Join(w.Command, " ")
	}
	text := w.Own + " on "
	switch w.Cores {
	case 0:
		text += "all processors"
	case 1:
		text += "1 processor"
	default:
		text += fmt.Sprintf("%d processors", w.Cores)
	}
	if w.Pinned {
		text += ", pinned"
	}
	if w.DutyPct < 100 {
		text += fmt.Sprintf(", %g %% of the time", w.DutyPct)
	}
	return text
}

// Loads is true where the plan makes a load of its own or of the user's.
func (p *Plan) Loads() (own, command bool) {
	for i := range p.Phases {
		if w := p.Phases[i].Work; w != nil {
			own = own || len(w.Command) == 0
			command = command || len(w.Command) > 0
		}
	}
	return own, command
}
