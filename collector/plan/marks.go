package plan

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"soakline/collector/telemetry"
)

// The marks of a run have fixed forms, so that a session shows which phases it holds:
//
//	plan: phase 2 of 3 begins: load: vector on all processors, after 3m0s
//	plan: phase 2 of 3 ends after 180.0 s: the time was over
//	plan: phase 2 of 3 breaks off after 12.3 s: stopped by the user
const (
	markStart = "plan: "
	alarmText = "ALARM: "
)

func (r *Runner) beginText(p *Phase) string {
	return fmt.Sprintf("%sphase %d of %d begins: %s, %s", markStart, r.i+1, len(r.phases), p.Title(), p.Ends())
}

func (r *Runner) endText(s *Span) string {
	verb := "ends"
	if !s.Whole {
		verb = "breaks off"
	}
	return fmt.Sprintf("%sphase %d of %d %s after %.1f s: %s", markStart, s.Phase+1, len(r.phases), verb, s.EndS-s.StartS-s.PausedS, s.Why)
}

var markText = regexp.MustCompile(`^plan: phase (\d+) of (\d+) (begins|ends|breaks off)\b(?: after [0-9.]+ s)?: (.*)$`)

// Marked is a phase as the marks of a session tell it.
type Marked struct {
	Number, Of   int // from 1
	Kind         Kind
	StartS, EndS float64 // EndS is NaN where the session has no end of it
	Whole        bool    // it came to its own end
}

// FromMarks reads back which phases a session holds, in their order.
func FromMarks(marks []telemetry.Mark) []Marked {
	var out []Marked
	for _, m := range marks {
		f := markText.FindStringSubmatch(m.Text)
		if f == nil || m.Kind == telemetry.MarkUser {
			continue
		}
		number, _ := strconv.Atoi(f[1])
		of, _ := strconv.Atoi(f[2])
		if f[3] == "begins" {
			kind, _, _ := strings.Cut(f[4], ",")
			kind, _, _ = strings.Cut(kind, ":")
			out = append(out, Marked{Number: number, Of: of, Kind: Kind(kind), StartS: m.At, EndS: math.NaN()})
			continue
		}
		if n := len(out); n > 0 && out[n-1].Number == number {
			out[n-1].EndS, out[n-1].Whole = m.At, f[3] == "ends"
		}
	}
	return out
}

// IsAlarm is true for the mark of an alarm of a plan.
func IsAlarm(m telemetry.Mark) bool {
	return m.Kind != telemetry.MarkUser && strings.HasPrefix(m.Text, alarmText)
}
