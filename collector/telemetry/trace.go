package telemetry

import (
	"math"
	"time"
)

// Trace is a recording in columns. All columns are as long as Time. It is read-only by
// convention: the analysis never changes its input.
type Trace struct {
	// Time is seconds from the first sample, never decreasing; steps need not be even.
	Time []float64
	// Start is the wall-clock time of the first sample; zero if the file did not say.
	Start    time.Time
	Channels []Channel
	// Values[c][i] is channel c at Time[i] in its canonical unit; NaN in a gap.
	Values [][]float64
	// States[c][i] says what that value is worth. A nil column means: NaN is a gap,
	// all else is as read (a repeat may be held or measured anew, the file does not say).
	States [][]State
	Setup  []Setting
	Marks  []Mark
	Scores []Score
	// Simulated is true where any channel is computed rather than measured.
	Simulated bool
}

// Index finds the channel that holds a role; -1 if none does.
func (t *Trace) Index(r Role) int { return IndexOf(t.Channels, r) }

// IndexOf finds the first channel that holds a role; -1 if none does.
func IndexOf(chs []Channel, r Role) int {
	for i := range chs {
		if chs[i].Role == r {
			return i
		}
	}
	return -1
}

// StateAt is the state of channel c at sample i, worked out where the column is nil.
func (t *Trace) StateAt(c, i int) State {
	if c < len(t.States) && t.States[c] != nil {
		return t.States[c][i]
	}
	if math.IsNaN(t.Values[c][i]) {
		return GapEmpty
	}
	return Fresh
}
