package tracefile

import (
	"fmt"
	"math"
	"regexp"
	"strconv"

	"soakline/collector/telemetry"
)

// score is a score as noted: its time is on the file's own clock, "" the last sample.
type score struct {
	telemetry.Score
	at        string
	line, col int
}

// scoreForm is what stands behind "# score: name = ".
var scoreForm = regexp.MustCompile(`^(\S+?)(?: \[(.*)\])?, (higher|lower) is better(?:, at (\S+))?(?: s)?$`)

func (n *notes) addScore(r *records, at int, name, value string) error {
	m := scoreForm.FindStringSubmatch(value)
	var v float64
	var err error
	if m != nil {
		v, err = parseNumber([]byte(m[1]))
	}
	if m == nil || err != nil || math.IsNaN(v) {
		return r.fail(at, "a score as: total = 1510 [points], higher is better", shown([]byte(value)))
	}
	where := r.fail(at, "", "")
	n.scores = append(n.scores, score{telemetry.Score{Name: name, Value: v, Unit: unquote(m[2]), HigherIsBetter: m[3] == "higher"},
		m[4], where.Line, where.Column})
	return nil
}

// takeScores puts the scores on the trace's clock.
func (f *reader) takeScores(t *telemetry.Trace) error {
	for _, s := range f.notes.scores {
		s.Score.At = since(f.time.last, f.time.first)
		if s.at != "" {
			at, err := f.time.mark(s.at)
			if err != nil {
				return &Error{f.file, s.line, s.col, "a score's time in " + f.time.words(), strconv.Quote(s.at)}
			}
			s.Score.At = at
		}
		t.Scores = append(t.Scores, s.Score)
	}
	return nil
}

func (w *writer) scores() error {
	for _, s := range w.t.Scores {
		if math.IsNaN(s.Value) || math.IsInf(s.Value, 0) || math.IsNaN(s.At) || math.IsInf(s.At, 0) {
			return fmt.Errorf("score %q has no value or no time", s.Name)
		}
		name, err := noteText(s.Name, "=")
		if err != nil {
			return fmt.Errorf("score: %w", err)
		}
		if name == "" {
			name = `""`
		}
		text := strconv.FormatFloat(s.Value, 'g', -1, 64)
		if s.Unit != "" {
			unit, err := noteText(s.Unit, "")
			if err != nil {
				return fmt.Errorf("score %s: %w", name, err)
			}
			text += " [" + unit + "]"
		}
		direction := "lower"
		if s.HigherIsBetter {
			direction = "higher"
		}
		if _, err := fmt.Fprintf(w, "# score: %s = %s, %s is better, at %s s\n", name, text, direction, short(s.At)); err != nil {
			return err
		}
	}
	return nil
}
