package server

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"soakline/analysis/compare"
	"soakline/analysis/text"
	"soakline/server/wire"
)

// The most that is compared at once: letters and dashes stay told apart.
const (
	mostSides = 6
	mostRuns  = 12
)

// compare answers GET /api/compare?side=ID,ID&side=ID: each side held against the first.
func (s *Server) compare(w http.ResponseWriter, r *http.Request) error {
	if s.config.Archive == nil {
		return errNoArchive
	}
	ids, err := sides(r.URL.Query())
	if err != nil {
		return err
	}
	out := wire.Compared{Comparisons: []wire.Against{}}
	runs, holds := make([][]compare.Run, len(ids)), make([]string, len(ids))
	for i, list := range ids {
		side := wire.Side{Letter: string(rune('A' + i))}
		for _, id := range list {
			run, told, err := s.comparedRun(r.Context(), id)
			if err != nil {
				return err
			}
			side.Runs, runs[i] = append(side.Runs, told), append(runs[i], run)
			holds[i] += fmt.Sprintf("%s %d %q %v\n", id, len(run.Trace.Time), run.Trace.Setup, run.Trace.Scores)
		}
		out.Sides = append(out.Sides, side)
	}
	for i := 1; i < len(runs); i++ {
		c, err := s.shelf.compare(r.Context(), fmt.Sprint(holds[0], "\n", holds[i], s.limit()), runs[0], runs[i])
		if err != nil {
			return err
		}
		a, b := out.Sides[0].Letter, out.Sides[i].Letter
		out.Comparisons = append(out.Comparisons, wire.Against{A: a, B: b, Say: text.Verdict(c, a, b), Comparison: c})
	}
	return writeJSON(w, out)
}

// sides reads which sessions stand on which side.
func sides(q url.Values) ([][]string, error) {
	var out [][]string
	var all []string
	for _, side := range q["side"] {
		ids := strings.Split(side, ",")
		for _, id := range ids {
			switch {
			case !sessionID.MatchString(id):
				return nil, badRequest("%.40q is not the id of a session", id)
			case slices.Contains(all, id):
				return nil, badRequest("session %s stands there twice", id)
			}
			all = append(all, id)
		}
		out = append(out, ids)
	}
	if len(out) < 1 || len(out) > mostSides || len(all) > mostRuns {
		return nil, badRequest("expected side=ID,ID once for each of 1 to %d sides, %d sessions at most", mostSides, mostRuns)
	}
	return out, nil
}

// comparedRun gives one run, for the comparison and for the page.
func (s *Server) comparedRun(ctx context.Context, id string) (compare.Run, wire.Run, error) {
	b, err := s.shelf.take(ctx, id)
	if err != nil {
		return compare.Run{}, wire.Run{}, err
	}
	result, err := s.shelf.analyse(ctx, b, s.limit(), nil, "")
	if err != nil {
		return compare.Run{}, wire.Run{}, err
	}
	start, end := firstLoad(result)
	power := result.Steady.PowerW
	if !power.Known() {
		power = result.PowerStep.LongW
	}
	if !power.Known() {
		power = result.Averages.PowerW
	}
	return compare.Run{Trace: b.trace, Result: result}, wire.Run{Kept: s.wireKept(b.Entry), LoadS: start, LoadEndS: end,
		PowerW: power, Warnings: append([]string{}, result.Warnings...)}, nil
}

// compare waits for its turn and compares two sides. The fits of a pair take their time
// and cannot be broken off, but nothing of the live view waits for them. key is what the
// answer depends on.
func (s *shelf) compare(ctx context.Context, key string, a, b []compare.Run) (compare.Comparison, error) {
	s.mu.Lock()
	c, known := s.between[key]
	s.mu.Unlock()
	if known {
		return c, nil
	}
	if err := s.begin(ctx); err != nil {
		return compare.Comparison{}, err
	}
	done := make(chan compare.Comparison, 1)
	go func() {
		defer s.end()
		c := compare.Compare(a, b, compare.Options{})
		s.mu.Lock()
		defer s.mu.Unlock()
		if len(s.between) >= mostAnswers {
			clear(s.between)
		}
		s.between[key] = c
		done <- c
	}()
	select {
	case c := <-done:
		return c, nil
	case <-ctx.Done():
		return compare.Comparison{}, told(ctx.Err())
	}
}
