package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Last names the session that came into the archive last.
const Last = "last"

// Load reads a session by its id, the beginning of its id, its name, or Last. A session
// that is being recorded is read as far as it is stored.
func (s *Store) Load(ctx context.Context, id string) (*telemetry.Trace, error) {
	// One transaction, so that a session packed or recorded meanwhile is read as it was.
	tx, err := s.read.BeginTx(ctx, nil)
	if err != nil {
		return nil, fault("load", id, err)
	}
	defer tx.Rollback()
	r, err := resolve(ctx, tx, id)
	if err != nil {
		return nil, fault("load", id, err)
	}
	t, err := loadTrace(ctx, tx, r.number)
	return t, fault("load", r.id, err)
}

// querier is a database or a transaction of it.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// resolve finds the one session that a text names.
func resolve(ctx context.Context, q querier, text string) (ref, error) {
	return resolveAmong(ctx, q, text, "deleted IS NULL")
}

// resolveAmong looks among the sessions that a condition chooses.
func resolveAmong(ctx context.Context, q querier, text, which string) (ref, error) {
	if text == Last {
		var r ref
		err := q.QueryRowContext(ctx, "SELECT number, id FROM session WHERE "+which+" ORDER BY stored DESC, number DESC LIMIT 1").Scan(&r.number, &r.id)
		if errors.Is(err, sql.ErrNoRows) {
			err = fmt.Errorf("%w: there is none at all", ErrNotFound)
		}
		return r, err
	}
	rows, err := q.QueryContext(ctx, "SELECT number, id, name FROM session WHERE "+which+" ORDER BY stored")
	if err != nil {
		return ref{}, err
	}
	defer rows.Close()
	var fits []ref
	for rows.Next() {
		var r ref
		var name string
		if err := rows.Scan(&r.number, &r.id, &name); err != nil {
			return ref{}, err
		}
		if r.id == text {
			return r, nil
		}
		if text != "" && (name == text || strings.HasPrefix(r.id, text)) {
			fits = append(fits, r)
		}
	}
	switch {
	case rows.Err() != nil:
		return ref{}, rows.Err()
	case len(fits) == 0:
		return ref{}, ErrNotFound
	case len(fits) > 1:
		ids := make([]string, 0, 3)
		for _, f := range fits[:min(3, len(fits))] {
			ids = append(ids, f.id)
		}
		return ref{}, fmt.Errorf("%w: %d of them, %s among them", ErrAmbiguous, len(fits), strings.Join(ids, ", "))
	}
	return fits[0], nil
}

func loadTrace(ctx context.Context, q querier, number int64) (*telemetry.Trace, error) {
	t := &telemetry.Trace{}
	var start sql.NullString
	err := q.QueryRowContext(ctx, "SELECT start, simulated FROM session WHERE number = ?", number).Scan(&start, &t.Simulated)
	if err != nil {
		return nil, err
	}
	if t.Start, err = parseTime(start); err != nil {
		return nil, err
	}
	widths, stated, err := loadChannels(ctx, q, t, number)
	if err != nil {
		return nil, err
	}
	if t.Setup, err = loadSetup(ctx, q, number); err != nil {
		return nil, err
	}
	if t.Marks, err = loadMarks(ctx, q, number); err != nil {
		return nil, err
	}
	if t.Scores, err = loadScores(ctx, q, number); err != nil {
		return nil, err
	}
	return t, loadRows(ctx, q, t, number, widths, stated)
}

// loadChannels fills in the channels and tells how their values are stored.
func loadChannels(ctx context.Context, q querier, t *telemetry.Trace, number int64) (widths []int, stated []bool, err error) {
	rows, err := q.QueryContext(ctx, `SELECT key, name, quantity, role, source, device, refresh_s, simulated, width, stated, labels, bits
		FROM channel WHERE session = ? ORDER BY position`, number)
	if err != nil {
		return nil, nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var c telemetry.Channel
		var kind, role, labels, bits string
		var refresh float64
		var w int
		var st bool
		if err := rows.Scan(&c.Key, &c.Name, &kind, &role, &c.Source, &c.Device, &refresh, &c.Simulated, &w, &st, &labels, &bits); err != nil {
			return nil, nil, err
		}
		c.Role, c.Quantity = telemetry.Role(role), kindOf(kind)
		c.Refresh = time.Duration(math.Round(refresh * float64(time.Second)))
		if err := errors.Join(json.Unmarshal([]byte(labels), &c.Labels), json.Unmarshal([]byte(bits), &c.Bits)); err != nil {
			return nil, nil, fmt.Errorf("%w: channel %q: %v", ErrDamaged, c.Name, err)
		}
		t.Channels, widths, stated = append(t.Channels, c), append(widths, w), append(stated, st)
	}
	return widths, stated, rows.Err()
}

// kindOf is the quantity of a name; one that a newer program stored is a plain number.
func kindOf(name string) quantity.Kind {
	for k := quantity.Unknown; k <= quantity.Resistance; k++ {
		if k.String() == name {
			return k
		}
	}
	return quantity.Unknown
}

func loadSetup(ctx context.Context, q querier, number int64) ([]telemetry.Setting, error) {
	rows, err := q.QueryContext(ctx, "SELECT key, value FROM setting WHERE session = ? ORDER BY position", number)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var setup []telemetry.Setting
	for rows.Next() {
		var s telemetry.Setting
		if err := rows.Scan(&s.Key, &s.Value); err != nil {
			return nil, err
		}
		setup = append(setup, s)
	}
	return setup, rows.Err()
}

// loadMarks gives the marks in order of time.
func loadMarks(ctx context.Context, q querier, number int64) ([]telemetry.Mark, error) {
	rows, err := q.QueryContext(ctx, "SELECT id, at_s, kind, text FROM mark WHERE session = ? ORDER BY at_s, id < 0, id", number)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var marks []telemetry.Mark
	for rows.Next() {
		var m telemetry.Mark
		var kind string
		if err := rows.Scan(&m.ID, &m.At, &kind, &m.Text); err != nil {
			return nil, err
		}
		m.Kind = telemetry.MarkKind(kind)
		marks = append(marks, m)
	}
	return marks, rows.Err()
}

// block is a row of the table of that name.
type block struct {
	first          uint64
	rows, channels int
	form           int
	data           []byte
}

func (b block) chunk(widths []int) (*chunk, error) {
	if b.channels < 0 || b.channels > len(widths) || b.rows < 0 || b.rows > 1<<20 {
		return nil, fmt.Errorf("%w: the block of row %d has %d channels and %d rows", ErrDamaged, b.first, b.channels, b.rows)
	}
	switch b.form {
	case formPlain:
		return readPlain(b.data, b.first, b.rows, b.channels, widths)
	case formPacked:
		return readPacked(b.data, b.first, b.rows, b.channels, widths)
	}
	return nil, fmt.Errorf("%w: the block of row %d has form %d", ErrDamaged, b.first, b.form)
}

// scanBlocks calls f with each block of a query until f says no more.
func scanBlocks(rows *sql.Rows, f func(block) (bool, error)) error {
	defer rows.Close()
	for rows.Next() {
		var b block
		if err := rows.Scan(&b.first, &b.rows, &b.channels, &b.form, &b.data); err != nil {
			return err
		}
		if more, err := f(b); err != nil || !more {
			return err
		}
	}
	return rows.Err()
}

// blocks gives the first blocks of a form, up to so many rows.
func (s *Store) blocks(ctx context.Context, number int64, form, most int) ([]block, error) {
	rows, err := s.read.QueryContext(ctx, "SELECT first, rows, channels, form, data FROM block WHERE session = ? AND form = ? ORDER BY first", number, form)
	if err != nil {
		return nil, err
	}
	var list []block
	n := 0
	err = scanBlocks(rows, func(b block) (bool, error) {
		list, n = append(list, b), n+b.rows
		return n < most, nil
	})
	return list, err
}

func (s *Store) widths(ctx context.Context, number int64) ([]int, error) {
	widths, _, err := loadChannels(ctx, s.read, &telemetry.Trace{}, number)
	return widths, err
}

// loadRows fills in the columns.
func loadRows(ctx context.Context, q querier, t *telemetry.Trace, number int64, widths []int, stated []bool) error {
	var total int
	if err := q.QueryRowContext(ctx, "SELECT coalesce(sum(rows), 0) FROM block WHERE session = ?", number).Scan(&total); err != nil {
		return err
	}
	rows, err := q.QueryContext(ctx, "SELECT first, rows, channels, form, data FROM block WHERE session = ? ORDER BY first", number)
	if err != nil {
		return err
	}
	all := newChunk(1, len(t.Channels), min(total, 1<<24))
	err = scanBlocks(rows, func(b block) (bool, error) {
		c, err := b.chunk(widths)
		if err == nil {
			all.append(c)
		}
		return true, err
	})
	t.Time, t.Values, t.States = all.at, all.values, all.states
	for i, known := range stated {
		if !known {
			t.States[i] = nil
		}
	}
	if !slices.Contains(stated, true) {
		t.States = nil
	}
	return err
}
