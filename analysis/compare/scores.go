package compare

import (
	"math"
	"strconv"
	"strings"

	"soakline/collector/telemetry"
)

// scores are the scores that the runs were given, by name and unit in the order in which
// they are met. A number in the setup under "score" counts as one in points, of unknown
// direction, for recordings that have no other place for it.
func scores(a, b []Run) []figure {
	var out []figure
	seen := map[[2]string]bool{}
	for _, side := range [][]Run{a, b} {
		for _, r := range side {
			for _, s := range r.given() {
				id := [2]string{s.Name, s.Unit}
				if seen[id] {
					continue
				}
				seen[id] = true
				better := s.HigherIsBetter
				out = append(out, figure{s.Name, s.Unit, func(r Run) float64 { return r.score(s.Name, s.Unit) }, &better})
			}
		}
	}
	if len(out) == 0 {
		out = append(out, figure{"score", "points", Run.setupScore, nil})
	}
	return out
}

func (r Run) given() []telemetry.Score {
	if r.Trace == nil {
		return nil
	}
	return r.Trace.Scores
}

// score is the mean of what the run scored under a name and unit, NaN if nothing.
func (r Run) score(name, unit string) float64 {
	sum, n := 0.0, 0
	for _, s := range r.given() {
		if s.Name == name && s.Unit == unit {
			sum += s.Value
			n++
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return sum / float64(n)
}

// setupScore is the number that stands in the setup under "score"; NaN if none.
func (r Run) setupScore() float64 {
	if r.Trace == nil {
		return math.NaN()
	}
	for i := len(r.Trace.Setup) - 1; i >= 0; i-- {
		s := r.Trace.Setup[i]
		if !isScore(s.Key) {
			continue
		}
		f := strings.Fields(s.Value)
		if len(f) == 0 {
			continue
		}
		if v, err := strconv.ParseFloat(strings.ReplaceAll(f[0], ",", ""), 64); err == nil {
			return v
		}
	}
	return math.NaN()
}
