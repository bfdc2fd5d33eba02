package server

import (
	"context"
	"math"
	"net/http"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/collector/archive"
	"soakline/collector/telemetry"
)

// What the page may open of the archive. Watching comes first: one session is loaded or
// analysed at a time, and what was opened is let go when nobody has looked for a while.
const (
	mostValues  = 20e6 // of one session; about an hour at 10 Hz of 500 channels
	mostHeld    = 30e6 // of all that are held, rows times channels
	valueBytes  = 9    // a float64 and a state
	mostAnswers = 200
	shelfIdle   = 2 * time.Minute
	// A session that is being recorded is read again only after this time.
	recordingStands = 10 * time.Second
)

// shelf holds the sessions that viewers have opened.
type shelf struct {
	archive Archive
	work    chan struct{} // holds one token: whoever has it may load and analyse

	mu      sync.Mutex
	open    []*opened // the one used last is the last
	answers map[question]analysis.Result
	between map[string]compare.Comparison // by what both sides hold
	lent    int64
	idle    *time.Timer
}

// opened is a session in memory.
type opened struct {
	id     string
	rows   int64
	since  time.Time
	values int64
	trace  *telemetry.Trace
}

// question is what an analysis depends on.
type question struct {
	id      string
	rows    int64
	limitC  float64
	earlier string
}

func newShelf(a Archive) *shelf {
	s := &shelf{archive: a, work: make(chan struct{}, 1), answers: map[question]analysis.Result{}, between: map[string]compare.Comparison{}}
	s.work <- struct{}{}
	return s
}

// book is a session with its rows. Trace is shared: only its notes are this reader's own.
type book struct {
	archive.Description
	trace *telemetry.Trace
	rows  int64 // of the trace
}

// take gives a session by its whole id. Setup, marks and scores are as they stand now.
func (s *shelf) take(ctx context.Context, id string) (*book, error) {
	d, err := s.archive.Describe(ctx, id)
	if err != nil {
		return nil, told(err)
	}
	if d.ID != id {
		return nil, told(archive.ErrNotFound)
	}
	o := s.held(d)
	if o == nil {
		if o, err = s.load(ctx, d); err != nil {
			return nil, err
		}
	}
	t := *o.trace
	t.Setup, t.Marks, t.Scores = d.Setup, d.Marks, d.Scores
	return &book{d, &t, o.rows}, nil
}

// held gives what is in memory and still true.
func (s *shelf) held(d archive.Description) *opened {
	s.mu.Lock()
	defer s.mu.Unlock()
	i := slices.IndexFunc(s.open, func(o *opened) bool { return o.id == d.ID })
	if i < 0 {
		return nil
	}
	o := s.open[i]
	stands := o.rows == d.Rows || d.State == archive.StateRecording && time.Since(o.since) < recordingStands
	s.open = slices.Delete(s.open, i, i+1)
	if !stands {
		s.lend()
		return nil
	}
	s.open = append(s.open, o)
	s.rest()
	return o
}

// load reads a session from the disk, one at a time.
func (s *shelf) load(ctx context.Context, d archive.Description) (*opened, error) {
	values := d.Rows * int64(d.Channels)
	if values > mostValues {
		return nil, &refusal{http.StatusRequestEntityTooLarge,
			"this session is too long for the page: 'soakline analyze' and 'soakline export' read it on the command line"}
	}
	if err := s.begin(ctx); err != nil {
		return nil, err
	}
	defer s.end()
	if o := s.held(d); o != nil { // another viewer asked for the same
		return o, nil
	}
	s.makeRoom(values)
	t, err := s.archive.Load(ctx, d.ID)
	if err != nil {
		return nil, told(err)
	}
	if len(t.Time) == 0 {
		return nil, &refusal{http.StatusConflict, "this session holds no row"}
	}
	o := &opened{id: d.ID, rows: int64(len(t.Time)), since: time.Now(), values: values, trace: t}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.open = append(s.open, o)
	s.lend()
	s.rest()
	return o, nil
}

// begin waits for its turn; end gives it on.
func (s *shelf) begin(ctx context.Context) error {
	select {
	case <-s.work:
		return nil
	case <-ctx.Done():
		return told(ctx.Err())
	}
}

func (s *shelf) end() { s.work <- struct{}{} }

// makeRoom lets go of what was used longest ago.
func (s *shelf) makeRoom(values int64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for len(s.open) > 0 && s.sum()+values > mostHeld {
		s.open = slices.Delete(s.open, 0, 1)
	}
	s.lend()
}

func (s *shelf) sum() (n int64) {
	for _, o := range s.open {
		n += o.values
	}
	return n
}

// lend raises the program's own limit of memory by what is open, so that the collector
// does not toil against a limit that is meant for watching alone, and takes it back.
func (s *shelf) lend() {
	limit := debug.SetMemoryLimit(-1)
	if limit == math.MaxInt64 {
		return
	}
	now := 2 * s.sum() * valueBytes
	debug.SetMemoryLimit(limit + now - s.lent)
	s.lent = now
}

// rest lets go of everything when nobody has asked for a while.
func (s *shelf) rest() {
	if s.idle == nil {
		s.idle = time.AfterFunc(shelfIdle, s.clear)
		return
	}
	s.idle.Reset(shelfIdle)
}

func (s *shelf) clear() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.open = nil
	s.lend()
}

// analyse says what a session shows. earlier is prior knowledge, named by earlierID.
func (s *shelf) analyse(ctx context.Context, b *book, limitC float64, earlier []analysis.Result, earlierID string) (analysis.Result, error) {
	q := question{b.ID, b.rows, limitC, earlierID}
	s.mu.Lock()
	r, known := s.answers[q]
	s.mu.Unlock()
	if known {
		return r, nil
	}
	if err := s.begin(ctx); err != nil {
		return r, err
	}
	defer s.end()
	r, err := analyse(ctx, b.trace, analysis.Options{LimitC: limitC, Earlier: earlier})
	if err != nil {
		return r, told(err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.answers) >= mostAnswers {
		clear(s.answers)
	}
	s.answers[q] = r
	return r, nil
}

// analyse is analysis.Analyze that stops with ctx.
func analyse(ctx context.Context, t *telemetry.Trace, o analysis.Options) (analysis.Result, error) {
	on := analysis.NewOnline(t.Channels, o)
	v := make([]float64, len(t.Channels))
	st := make([]telemetry.State, len(t.Channels))
	for i, at := range t.Time {
		if i%4096 == 0 && ctx.Err() != nil {
			return analysis.Result{}, ctx.Err()
		}
		for c := range t.Channels {
			v[c], st[c] = t.Values[c][i], t.StateAt(c, i)
		}
		on.Push(at, v, st)
	}
	return on.Result(), nil
}
