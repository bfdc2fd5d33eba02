package next

import (
	"cmp"
	"slices"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/collector/telemetry"
)

// Schema names the form of List; fields are added, never renamed or removed.
const Schema = "soakline.next/1"

// Input is what the advice is drawn from.
type Input struct {
	Result analysis.Result
	// Trace is the recording itself; nil leaves out what only it shows (the rest before the
	// load, the fan).
	Trace *telemetry.Trace
	// Earlier compares the recording (as B) with an earlier setup (as A); nil: none.
	Earlier *compare.Comparison
	// Runs is how many runs of this setup there are; 0 counts as one.
	Runs int
}

// Kind is what an entry asks for.
type Kind string

// The kinds, in the order in which equal ranks are listed.
const (
	Change       Kind = "change"       // of the machine
	Measure      Kind = "measure"      // something that the answers lack
	Repeat       Kind = "repeat"       // the same again, longer or more often
	Undetermined Kind = "undetermined" // a question that the recording leaves open
)

// Entry is one piece of advice.
type Entry struct {
	Rule     string `json:"rule"`
	Kind     Kind   `json:"kind"`
	Rank     int    `json:"rank"` // the greater, the sooner
	Text     string `json:"text"`
	Evidence string `json:"evidence"`
	Gain     *Gain  `json:"gain"` // null where none can be put in numbers
	Caution  string `json:"caution"`
}

// Gain is what the change is expected to bring. Intervals are 90 %; null is not known.
type Gain struct {
	What  string          `json:"what"`
	Unit  string          `json:"unit"`
	Value analysis.Number `json:"value"`
	Low   analysis.Number `json:"low"`
	High  analysis.Number `json:"high"`
}

// List is the advice, the most pressing first.
type List struct {
	Schema    string  `json:"schema"`
	Simulated bool    `json:"simulated"`
	Entries   []Entry `json:"entries"`
}

// Of evaluates the table of rules.
func Of(in Input) List {
	l := List{Schema: Schema, Simulated: in.Result.Simulated, Entries: []Entry{}}
	facts := findings(in)
	for _, r := range rules {
		if e, ok := r.evaluate(facts); ok {
			l.Entries = append(l.Entries, e)
		}
	}
	slices.SortStableFunc(l.Entries, func(a, b Entry) int {
		if au, bu := a.Kind == Undetermined, b.Kind == Undetermined; au != bu {
			if au {
				return 1
			}
			return -1
		}
		return cmp.Compare(b.Rank, a.Rank)
	})
	return l
}
