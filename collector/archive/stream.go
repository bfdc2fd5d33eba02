package archive

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"runtime"

	"soakline/collector/session"
	"soakline/collector/telemetry"
)

// Rows is a trace that comes piece by piece.
type Rows interface {
	// Next gives up to most rows: Time, Values and States alone. The error is io.EOF,
	// with no rows, at the end.
	Next(most int) (*telemetry.Trace, error)
	// Head gives all the rest, after the end.
	Head() (*telemetry.Trace, error)
}

// Imported says what came into the archive.
type Imported struct {
	ID       string
	Rows     int
	Channels int
}

// ImportRows stores a trace of any length; memory holds a few pieces. It commits every few
// pieces, so that a recording into the same archive goes on. Where it fails, or is stopped
// by ctx or a crash, nothing of it stays.
func (s *Store) ImportRows(ctx context.Context, from Rows, name string) (done Imported, err error) {
	im := &importer{store: s, from: from, id: session.NewID(s.now(), rand.Reader), next: 1}
	if im.lock, err = s.lock(im.id); err != nil || im.lock == nil {
		return done, fault("import", name, orHeld(err))
	}
	defer im.lock.release()
	err = im.run(ctx, session.Clean(name, 200))
	if err != nil && im.number != 0 {
		err = errors.Join(err, s.discard(im.number))
	}
	return Imported{im.id, im.rows, im.channels}, fault("import", name, err)
}

// importer is one import in progress.
type importer struct {
	store    *Store
	from     Rows
	lock     *lock
	id       string
	number   int64
	next     uint64 // the number of the next row
	rows     int
	channels int
	stated   []bool
	length   float64
	bytes    int64
}

// importWidth keeps every value as it is: what the file holds is not known beforehand,
// and the planes that a narrower value leaves empty pack to nothing.
const importWidth = 8

func (im *importer) run(ctx context.Context, name string) error {
	more := true
	for more {
		batch, err := im.gather()
		more = err == nil
		if err != nil && err != io.EOF {
			return err
		}
		if err := im.write(ctx, name, batch); err != nil {
			return err
		}
	}
	head, err := im.from.Head()
	if err != nil {
		return err
	}
	return im.finish(ctx, head)
}

// gather reads and packs the next pieces, one a processor at a time. The error is io.EOF
// after the last.
func (im *importer) gather() (batch []packedPiece, err error) {
	results := make([]chan packedPiece, 0, importPieces)
	busy := make(chan struct{}, runtime.GOMAXPROCS(0))
	for len(results) < importPieces {
		var piece *telemetry.Trace
		if piece, err = im.from.Next(packRows); err != nil {
			break
		}
		c := im.chunk(piece)
		out := make(chan packedPiece, 1)
		results = append(results, out)
		busy <- struct{}{}
		go func() {
			data, err := c.packAt(im.widths(), importLevel)
			out <- packedPiece{c.first, len(c.at), len(c.values), c.at[len(c.at)-1], data, err}
			<-busy
		}()
	}
	for _, out := range results {
		p := <-out
		if p.err != nil {
			return nil, p.err
		}
		batch = append(batch, p)
	}
	return batch, err
}

// importLevel packs a file of other make several times as fast as what is recorded, for a
// few per cent of its size: BenchmarkImportRows.
const importLevel = 4

// importPieces is how many pieces one transaction takes.
const importPieces = 8

type packedPiece struct {
	first          uint64
	rows, channels int
	last           float64
	data           []byte
	err            error
}

// chunk takes a piece over; its columns are not copied.
func (im *importer) chunk(piece *telemetry.Trace) *chunk {
	c := &chunk{first: im.next, at: piece.Time, values: piece.Values}
	im.next += uint64(len(piece.Time))
	if im.stated == nil {
		im.stated = make([]bool, len(piece.Values))
		im.channels = len(piece.Values)
	}
	for k := range piece.Values {
		if k < len(piece.States) && piece.States[k] != nil {
			im.stated[k] = true
			c.states = append(c.states, piece.States[k])
			continue
		}
		states := make([]telemetry.State, len(piece.Time))
		for i := range states {
			states[i] = piece.StateAt(k, i)
		}
		c.states = append(c.states, states)
	}
	return c
}

func (im *importer) widths() []int {
	w := make([]int, im.channels)
	for i := range w {
		w[i] = importWidth
	}
	return w
}

// write commits a batch; the first makes the session.
func (im *importer) write(ctx context.Context, name string, batch []packedPiece) error {
	return im.store.update(ctx, func(tx *sql.Tx) error {
		if im.number == 0 {
			if len(batch) == 0 {
				return errNoSamples
			}
			h := &head{}
			if err := insertSession(tx, h, im.id, name, im.store.now(), session.Info{Origin: OriginImport}); err != nil {
				return err
			}
			im.number = h.number
		}
		for _, p := range batch {
			if _, err := tx.ExecContext(ctx, "INSERT INTO block (session, first, rows, channels, form, data) VALUES (?, ?, ?, ?, ?, ?)",
				im.number, int64(p.first), p.rows, p.channels, formPacked, p.data); err != nil {
				return err
			}
			im.rows, im.length, im.bytes = im.rows+p.rows, p.last, im.bytes+int64(len(p.data))
		}
		return nil
	})
}

var errNoSamples = errors.New("the trace holds no samples")

// finish stores what the file says beside its rows and closes the session.
func (im *importer) finish(ctx context.Context, t *telemetry.Trace) error {
	if len(t.Channels) != im.channels {
		return fmt.Errorf("%d channels for %d columns", len(t.Channels), im.channels)
	}
	return im.store.update(ctx, func(tx *sql.Tx) error {
		for i, c := range t.Channels {
			if err := insertChannel(tx, im.number, i, c, importWidth, im.stated[i]); err != nil {
				return err
			}
		}
		if err := importNotes(tx, im.number, t, im.store.now()); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `UPDATE session SET state = 'closed', why = 'imported', rows = ?, bytes = ?, length_s = ?, start = ?, simulated = ? WHERE number = ?`,
			im.rows, im.bytes, im.length, timeText(t.Start), t.Simulated, im.number)
		return err
	})
}

// discard takes a session that did not come in whole out again.
func (s *Store) discard(number int64) error {
	return s.update(context.Background(), func(tx *sql.Tx) error {
		_, err := tx.Exec("DELETE FROM session WHERE number = ? AND state = 'recording'", number)
		return err
	})
}
