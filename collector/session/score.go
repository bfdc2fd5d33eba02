package session

import (
	"fmt"
	"math"
	"slices"

	"soakline/collector/telemetry"
)

// How long a score's unit may be, in runes, and how many scores a session may hold.
const (
	maxUnit   = 40
	maxScores = 1000
)

// CleanScore makes a score from outside storable. An empty name becomes "score". It
// refuses a value that is no number.
func CleanScore(sc telemetry.Score) (telemetry.Score, error) {
	if math.IsNaN(sc.Value) || math.IsInf(sc.Value, 0) {
		return sc, fmt.Errorf("a score is a finite number, not %g", sc.Value)
	}
	if sc.Name = Clean(sc.Name, maxKey); sc.Name == "" {
		sc.Name = "score"
	}
	sc.Unit = Clean(sc.Unit, maxUnit)
	return sc, nil
}

// AddScore stores what a run achieved and gives it back as stored. A time that is
// negative, not a number or later than the newest row means now. A score of the same name
// and time is replaced.
func (s *Session) AddScore(sc telemetry.Score) (telemetry.Score, error) {
	sc, err := CleanScore(sc)
	if err != nil {
		return sc, err
	}
	if now := s.ring.Now(); !(sc.At >= 0 && sc.At <= now) {
		sc.At = now
	}
	s.change(func() {
		i := slices.IndexFunc(s.scores, func(o telemetry.Score) bool { return o.Name == sc.Name && o.At == sc.At })
		switch {
		case i >= 0:
			s.scores[i] = sc
		case len(s.scores) >= maxScores:
			err = fmt.Errorf("a session holds %d scores at most", maxScores)
		default:
			s.scores = append(s.scores, sc)
		}
	})
	return sc, err
}

// Scores gives what the runs of the session achieved, in the order in which it was noted.
func (s *Session) Scores() []telemetry.Score {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return slices.Clone(s.scores)
}
