package server

import (
	"context"
	"io"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"sync"

	"soakline/collector/ring"
	"soakline/collector/tracefile"
	"soakline/server/wire"
)

// The most that one request may ask for.
const (
	maxRows    = 6000
	maxBuckets = 2000
)

func (s *Server) health(w http.ResponseWriter, _ *http.Request) error {
	writeBody(w, http.StatusOK, types[".txt"], []byte("ok\n"))
	return nil
}

func (s *Server) analysis(w http.ResponseWriter, r *http.Request) error {
	ctx, cancel := context.WithTimeout(r.Context(), analysisTimeout)
	defer cancel()
	body := s.live.current(ctx)
	if body == nil {
		return &refusal{http.StatusServiceUnavailable, "there is no analysis now: ask again in a moment"}
	}
	writeBody(w, http.StatusOK, "application/json", body)
	return nil
}

// blocks saves the memory of a block for the next request.
var blocks = sync.Pool{New: func() any { return new(ring.Block) }}

// rows answers GET /api/rows?after=SEQ&max=N. It gives no row that the stream has not
// given out: a viewer goes on there with after.
func (s *Server) rows(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	after, err := number(q, "after", 0, math.MaxUint64, 0)
	if err != nil {
		return err
	}
	left, err := number(q, "max", 1, maxRows, maxRows)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Cache-Control", "no-store")
	block := blocks.Get().(*ring.Block)
	defer blocks.Put(block)
	var pad padding
	var buf []byte
	for last := s.published.Load(); left > 0 && after < last; {
		n, _ := s.config.Session.Ring().Rows(after, int(min(left, 600)), block)
		chs, version := s.config.Session.Channels()
		buf = buf[:0]
		for i := range n {
			row := pad.row(block.Row(i), len(chs))
			if row.Seq > last {
				n = 0
				break
			}
			begun, at := wire.BeginSized(buf)
			if buf, err = wire.AppendRow(begun, uint32(version), row); err != nil {
				return err
			}
			buf = wire.EndSized(buf, at)
			after = row.Seq
		}
		if _, err := w.Write(buf); err != nil || n == 0 {
			return nil // the viewer has gone, or has all
		}
		left -= uint64(n)
	}
	return nil
}

// asked reads the span and the number of buckets of a history.
func asked(q url.Values) (from, to float64, buckets uint64, err error) {
	if from, err = seconds(q, "from"); err != nil {
		return
	}
	if to, err = seconds(q, "to"); err != nil {
		return
	}
	if to < from {
		return from, to, 0, badRequest("to=%g lies before from=%g", to, from)
	}
	buckets, err = number(q, "buckets", 1, maxBuckets, maxBuckets)
	return
}

// history answers GET /api/history?from=S&to=S&buckets=N.
func (s *Server) history(w http.ResponseWriter, r *http.Request) error {
	from, to, n, err := asked(r.URL.Query())
	if err != nil {
		return err
	}
	last := s.published.Load()
	b := s.config.Session.Ring().Buckets(from, to, int(n))
	chs, version := s.config.Session.Channels()
	h := wire.History{ChannelsVersion: uint32(version), Channels: len(chs), Buckets: b.N, FromS: b.From, WidthS: b.Width,
		LastSeq: min(b.Last, last)}
	h.Min, h.Mean, h.Max = widen(b.Min, len(chs)*b.N), widen(b.Mean, len(chs)*b.N), widen(b.Max, len(chs)*b.N)
	body, err := h.Append(nil)
	if err != nil {
		return err
	}
	writeBody(w, http.StatusOK, "application/octet-stream", body)
	return nil
}

// widen adds empty columns for channels that came after the plane was made.
func widen(plane []float32, size int) []float32 {
	for len(plane) < size {
		plane = append(plane, float32(math.NaN()))
	}
	return plane
}

// trace answers GET /api/trace.csv.
func (s *Server) trace(w http.ResponseWriter, _ *http.Request) error {
	trace := s.config.Session.Trace()
	if len(trace.Time) == 0 {
		return &refusal{http.StatusConflict, "nothing is recorded yet: ask again in a moment"}
	}
	h := w.Header()
	h.Set("Content-Type", "text/csv; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Disposition", `attachment; filename="soakline-`+s.config.Session.Info().ID+`.csv"`)
	out := &counted{Writer: w}
	err := tracefile.Write(out, trace)
	if err != nil && out.n > 0 {
		// The answer has begun: cut it off, so that half a file cannot pass for one.
		s.config.Log.Debug("trace broke off", "err", err)
		panic(http.ErrAbortHandler)
	}
	return err
}

// counted counts what was written.
type counted struct {
	io.Writer
	n int
}

func (c *counted) Write(p []byte) (int, error) {
	n, err := c.Writer.Write(p)
	c.n += n
	return n, err
}

// number reads a whole number from low to high; absent, it is fallback.
func number(q url.Values, name string, low, high, fallback uint64) (uint64, error) {
	if !q.Has(name) {
		return fallback, nil
	}
	n, err := strconv.ParseUint(q.Get(name), 10, 64)
	if err != nil || n < low || n > high {
		return 0, badRequest("%s=%q: expected a whole number from %d to %d", name, q.Get(name), low, high)
	}
	return n, nil
}

func seconds(q url.Values, name string) (float64, error) {
	s, err := strconv.ParseFloat(q.Get(name), 64)
	if err != nil || math.IsNaN(s) || math.IsInf(s, 0) {
		return 0, badRequest("%s=%q: expected seconds since the session's first sample", name, q.Get(name))
	}
	return s, nil
}
