package archive

import (
	"context"
	"errors"
	"math"
	"slices"
	"sync"
	"time"

	"soakline/collector/ring"
	"soakline/collector/session"
	"soakline/collector/telemetry"
)

// Activity says what a recorder is doing.
type Activity string

// The activities.
const (
	Recording Activity = "recording"
	Paused    Activity = "paused" // Status.Err says why; it goes on by itself
	Closed    Activity = "closed"
)

// Status is how a recording stands.
type Status struct {
	Activity Activity
	Err      error         // why it is paused, or could not be closed
	Rows     uint64        // safely on the disk
	Lost     uint64        // rows that were gone from the ring before they could be written
	Commit   time.Duration // what the last commit took
	Bytes    int64         // of the rows on the disk
}

// Recorder writes one running session into the archive.
type Recorder struct {
	store   *Store
	session *session.Session
	done    chan struct{}

	mu     sync.Mutex
	status Status

	// The rest belongs to the recorder's goroutine: what the disk holds by now.
	lock     *lock
	number   int64 // of the session; 0 before it is stored
	after    uint64
	length   float64
	widths   []int
	changes  uint64
	marks    []telemetry.Mark
	setup    []telemetry.Setting
	scores   []telemetry.Score
	edits    int
	lostFrom float64 // time before a hole, NaN if there is none to note
	holes    int64
	buffer   ring.Block
}

// Most rows of one block and of one transaction: a transaction stays short even when a
// long pause has to be made up for.
const (
	blockRows       = 600
	transactionRows = 6000
)

// Record follows a session until it ends or ctx does, and closes it in the archive then.
// Where the disk does not take the end within 15 s it is given up: the session is closed
// by the next Open, as one that broke off. Wait for Done before closing the Store.
func (s *Store) Record(ctx context.Context, from *session.Session) *Recorder {
	r := s.recorder(from)
	go r.run(ctx)
	return r
}

func (s *Store) recorder(from *session.Session) *Recorder {
	return &Recorder{store: s, session: from, done: make(chan struct{}),
		status: Status{Activity: Recording}, lostFrom: math.NaN(), changes: math.MaxUint64}
}

// Status says how the recording stands. Any goroutine may ask.
func (r *Recorder) Status() Status {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.status
}

// Done is closed when the session is closed and packed, or given up.
func (r *Recorder) Done() <-chan struct{} { return r.done }

func (r *Recorder) run(ctx context.Context) {
	defer close(r.done)
	wake, stop := r.session.Follow()
	defer stop()
	tick := time.NewTicker(r.store.every)
	defer tick.Stop()
	var ended time.Time
	r.flush() // the session itself, its setup and channels
	for {
		select {
		case <-ctx.Done():
			r.finish("the program was stopped")
			return
		case <-tick.C:
			r.flush()
		case <-wake:
			if r.session.Ring().Last() > r.after+transactionRows && r.Status().Activity != Paused {
				r.flush() // faster than the clock: a replay
			}
		}
		why, over := r.session.Ended()
		if !over {
			continue
		}
		if ended.IsZero() {
			ended = time.Now()
		}
		if r.flush() == nil || time.Since(ended) >= r.store.patience {
			r.finish(why)
			return
		}
	}
}

// flush commits everything that is new. Where that fails the recorder is paused: nothing
// is forgotten, the next flush tries again.
func (r *Recorder) flush() error {
	for {
		began := time.Now()
		more, err := r.commit()
		r.report(err, time.Since(began))
		if err != nil || !more {
			return err
		}
	}
}

func (r *Recorder) report(err error, took time.Duration) {
	r.mu.Lock()
	before := r.status
	r.status.Commit = took
	r.status.Err = fault("record", r.session.Info().ID, err)
	r.status.Activity = Recording
	if err != nil {
		r.status.Activity = Paused
	}
	now := r.status
	r.mu.Unlock()
	if now.Activity != before.Activity {
		if err != nil {
			r.store.log.Error("recording is paused", "session", r.session.Info().ID, "err", now.Err)
		} else {
			r.store.log.Info("recording goes on", "session", r.session.Info().ID, "rows", now.Rows)
		}
	}
}

// finish closes the session, lets go of its lock and packs it. What fails here is made
// up for by the next Open and Tidy.
func (r *Recorder) finish(why string) {
	err := r.flush()
	if err == nil {
		err = r.store.closeSession(r.number, why)
	}
	r.lock.release()
	r.mu.Lock()
	r.status.Activity, r.status.Err = Closed, fault("close", r.session.Info().ID, err)
	r.mu.Unlock()
	if err != nil {
		r.store.log.Error("the session could not be closed; it will be at the next start", "session", r.session.Info().ID, "err", err)
		return
	}
	if err := r.store.Tidy(context.Background()); err != nil {
		r.store.log.Warn("the session could not be packed; it will be after the next recording", "err", err)
	}
}

// gather takes up to transactionRows new rows out of the ring.
func (r *Recorder) gather() (chunks []*chunk, lost uint64) {
	after := r.after
	for rows := 0; rows < transactionRows; {
		n, _ := r.session.Ring().Rows(after, blockRows, &r.buffer)
		if n == 0 {
			break
		}
		c := fromBlock(&r.buffer)
		lost += c.first - after - 1
		after = c.first + uint64(n) - 1
		chunks, rows = append(chunks, c), rows+n
	}
	return chunks, lost
}

// changedMarks are the marks that are new or have another text than on the disk.
func changedMarks(stored, now []telemetry.Mark) []telemetry.Mark {
	var changed []telemetry.Mark
	for _, m := range now {
		if !slices.Contains(stored, m) {
			changed = append(changed, m)
		}
	}
	return changed
}

var errHeld = errors.New("another process records a session of the same id")
