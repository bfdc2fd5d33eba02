package server

import (
	"context"
	"encoding/json"
	"math"
	"net/http"
	"slices"

	"soakline/analysis"
	"soakline/analysis/say"
	"soakline/collector/archive"
	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
	"soakline/server/wire"
)

// The most earlier sessions that are taken as prior knowledge.
const mostEarlier = 3

// book is the session that the address names.
func (s *Server) book(ctx context.Context, r *http.Request) (*book, error) {
	id, err := s.kept(r)
	if err != nil {
		return nil, err
	}
	return s.shelf.take(ctx, id)
}

// keptLayout answers GET /api/sessions/{id}/layout.
func (s *Server) keptLayout(w http.ResponseWriter, r *http.Request) error {
	b, err := s.book(r.Context(), r)
	if err != nil {
		return err
	}
	l := wire.KeptLayout{Kept: s.wireKept(b.Entry), Layout: wire.Layout{
		Version: wire.Version,
		Session: wire.Session{ID: b.ID, Start: b.Start, Host: b.Host, Origin: b.Origin, Simulated: b.Simulated,
			PeriodS: b.period()},
		ChannelsVersion: keptVersion,
		Channels:        wireChannels(b.trace.Channels),
		Token:           s.access.tokenFor(r),
		Setup:           wireSetup(b.Setup),
		Scores:          []wire.Score{},
		Missing:         []wire.Missing{},
		Marks:           []wire.Mark{},
		LastSeq:         uint64(b.rows),
		Ended:           b.Why,
	}}
	for _, m := range b.Marks {
		l.Marks = append(l.Marks, wireMark(m))
	}
	for _, sc := range b.Scores {
		l.Scores = append(l.Scores, wireScore(sc))
	}
	if err := drawn(&l.Layout, b.trace.Channels, s.limit()); err != nil {
		return err
	}
	return writeJSON(w, l)
}

// keptVersion is the version of the channels of a session whose channels stay.
const keptVersion = 1

// period is the time between two rows, worked out where the archive knows none, s.
func (b *book) period() float64 {
	if p := b.Period.Seconds(); p > 0 {
		return p
	}
	t := b.trace.Time
	if n := len(t); n > 1 && t[n-1] > t[0] {
		return (t[n-1] - t[0]) / float64(n-1)
	}
	return 1
}

// keptRows answers GET /api/sessions/{id}/rows?after=SEQ&max=N like /api/rows.
func (s *Server) keptRows(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	after, err := number(q, "after", 0, math.MaxInt64, 0)
	if err != nil {
		return err
	}
	most, err := number(q, "max", 1, maxRows, maxRows)
	if err != nil {
		return err
	}
	b, err := s.book(r.Context(), r)
	if err != nil {
		return err
	}
	t := b.trace
	row := telemetry.Row{Values: make([]float64, len(t.Channels)), States: make([]telemetry.State, len(t.Channels))}
	end := min(after+most, uint64(len(t.Time)))
	var buf []byte
	for ; after < end; after++ {
		row.Seq, row.At = after+1, t.Time[after]
		for c := range t.Channels {
			row.Values[c], row.States[c] = t.Values[c][after], t.StateAt(c, int(after))
		}
		begun, at := wire.BeginSized(buf)
		if buf, err = wire.AppendRow(begun, keptVersion, row); err != nil {
			return err
		}
		buf = wire.EndSized(buf, at)
	}
	writeBody(w, http.StatusOK, "application/octet-stream", buf)
	return nil
}

// keptHistory answers GET /api/sessions/{id}/history?from=S&to=S&buckets=N like
// /api/history.
func (s *Server) keptHistory(w http.ResponseWriter, r *http.Request) error {
	from, to, n, err := asked(r.URL.Query())
	if err != nil {
		return err
	}
	b, err := s.book(r.Context(), r)
	if err != nil {
		return err
	}
	h := buckets(b.trace, from, to, int(n), b.period())
	body, err := h.Append(nil)
	if err != nil {
		return err
	}
	writeBody(w, http.StatusOK, "application/octet-stream", body)
	return nil
}

// buckets sums up a span of a trace in at most n buckets on the absolute grid, each two
// periods wide or more, so that an uneven step leaves no hole.
func buckets(t *telemetry.Trace, from, to float64, n int, period float64) wire.History {
	last := t.Time[len(t.Time)-1]
	from, to = min(max(from, t.Time[0]), last), min(max(to, t.Time[0]), last)
	width := 2 * period
	if wanted := (to - from) / float64(max(1, n-1)); wanted > width {
		width = period * math.Ceil(wanted/period)
	}
	first := math.Floor(from/width + 1e-9)
	count := min(n, int(math.Floor(to/width+1e-9)-first)+1)
	h := wire.History{ChannelsVersion: keptVersion, Channels: len(t.Channels), Buckets: count, FromS: first * width, WidthS: width, LastSeq: uint64(len(t.Time))}
	nan := float32(math.NaN())
	for _, plane := range []*[]float32{&h.Min, &h.Mean, &h.Max} {
		*plane = slices.Repeat([]float32{nan}, count*len(t.Channels))
	}
	begin, _ := slices.BinarySearch(t.Time, first*width-1e-9)
	sums, seen := make([]float64, count), make([]int, count)
	for c := range t.Channels {
		clear(sums)
		clear(seen)
		low, mean, high := h.Min[c*count:(c+1)*count], h.Mean[c*count:(c+1)*count], h.Max[c*count:(c+1)*count]
		for i := begin; i < len(t.Time); i++ {
			k := int(math.Floor(t.Time[i]/width+1e-9) - first)
			if k >= count {
				break
			}
			v := t.Values[c][i]
			if k < 0 || math.IsNaN(v) {
				continue
			}
			if f := float32(v); seen[k] == 0 {
				low[k], high[k] = f, f
			} else {
				low[k], high[k] = min(low[k], f), max(high[k], f)
			}
			sums[k] += v
			seen[k]++
		}
		for k, m := range seen {
			if m > 0 {
				mean[k] = float32(sums[k] / float64(m))
			}
		}
	}
	return h
}

// keptAnalysis answers GET /api/sessions/{id}/analysis.
func (s *Server) keptAnalysis(w http.ResponseWriter, r *http.Request) error {
	b, err := s.book(r.Context(), r)
	if err != nil {
		return err
	}
	result, earlier, err := s.shows(r.Context(), b)
	if err != nil {
		return err
	}
	return writeJSON(w, wire.KeptAnalysis{Say: say.Of(result), Result: result, Earlier: earlier})
}

// shows says what a session shows; where its own rows do not tell the thermal path well,
// earlier sessions of the same machine in the same setup help.
func (s *Server) shows(ctx context.Context, b *book) (analysis.Result, []string, error) {
	limit := s.limit()
	alone, err := s.shelf.analyse(ctx, b, limit, nil, "")
	if err != nil || tellsPath(alone) {
		return alone, []string{}, err
	}
	ids, results, err := s.earlier(ctx, b, limit)
	if err != nil || len(ids) == 0 {
		return alone, []string{}, err
	}
	key, _ := json.Marshal(ids)
	with, err := s.shelf.analyse(ctx, b, limit, results, string(key))
	return with, ids, err
}

// tellsPath is true where a run shows the thermal path well enough to draw it: both parts,
// and the whole within a factor.
func tellsPath(r analysis.Result) bool {
	const factor = 1.6 // between the ends of the 90 % interval, as for the stair
	p := r.ThermalPath
	return p.NearKPerW.Known() && p.RthLowKPerW.Known() && p.RthHighKPerW < factor*p.RthLowKPerW
}

// earlier gives the newest sessions before b of the same machine and the same setup,
// with what they show.
func (s *Server) earlier(ctx context.Context, b *book, limit float64) (ids []string, results []analysis.Result, err error) {
	list, err := s.config.Archive.Sessions(ctx, archive.Filter{State: archive.StateClosed, Limit: maxListed})
	if err != nil {
		return nil, nil, told(err)
	}
	for _, e := range list {
		if len(ids) == mostEarlier {
			break
		}
		if e.ID == b.ID || !e.Stored.Before(b.Stored) || e.Host != b.Host || e.Simulated != b.Simulated || !alike(e.Setup, b.Setup) ||
			e.Rows*int64(e.Channels) > mostValues/10 {
			continue
		}
		other, err := s.shelf.take(ctx, e.ID)
		if err != nil {
			continue // prior knowledge that cannot be had is done without
		}
		r, err := s.shelf.analyse(ctx, other, limit, nil, "")
		if err != nil {
			return nil, nil, err
		}
		if tellsPath(r) {
			ids, results = append(ids, e.ID), append(results, r)
		}
	}
	slices.Reverse(ids)
	slices.Reverse(results) // the newest counts most and comes last
	return ids, results, nil
}

// alike is true for the same conditions, in whatever order; a machine whose conditions
// nobody noted is like no other.
func alike(a, b []telemetry.Setting) bool {
	if len(a) == 0 || len(a) != len(b) {
		return false
	}
	for _, kv := range a {
		if !slices.Contains(b, kv) {
			return false
		}
	}
	return true
}

// keptTrace answers GET /api/sessions/{id}/trace.csv.
func (s *Server) keptTrace(w http.ResponseWriter, r *http.Request) error {
	b, err := s.book(r.Context(), r)
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", "text/csv; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Disposition", `attachment; filename="soakline-`+b.ID+`.csv"`)
	out := &counted{Writer: w}
	if err = tracefile.Write(out, b.trace); err != nil && out.n > 0 {
		s.config.Log.Debug("trace broke off", "err", err)
		panic(http.ErrAbortHandler) // half a file must not pass for one
	}
	return err
}
