package archive

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strconv"
	"time"

	"soakline/collector/session"
	"soakline/collector/telemetry"
)

// change runs f in a transaction on the session that id names, unless it is recorded now.
func (s *Store) change(ctx context.Context, op, id string, f func(tx *sql.Tx, number int64) error) error {
	return fault(op, id, s.update(ctx, func(tx *sql.Tx) error {
		r, err := resolve(ctx, tx, id)
		if err != nil {
			return err
		}
		var state State
		if err := tx.QueryRow("SELECT state FROM session WHERE number = ?", r.number).Scan(&state); err != nil {
			return err
		}
		if state == StateRecording {
			return ErrRecording
		}
		return f(tx, r.number)
	}))
}

// Rename gives a session another name; "" takes the name away. It may be recording.
func (s *Store) Rename(ctx context.Context, id, name string) error {
	return fault("rename", id, s.update(ctx, func(tx *sql.Tx) error {
		r, err := resolve(ctx, tx, id)
		if err != nil {
			return err
		}
		_, err = tx.Exec("UPDATE session SET name = ? WHERE number = ?", session.Clean(name, 200), r.number)
		return err
	}))
}

// SetMark adds a mark to a closed session and gives it back with its ID.
func (s *Store) SetMark(ctx context.Context, id string, m telemetry.Mark) (telemetry.Mark, error) {
	err := s.change(ctx, "mark", id, func(tx *sql.Tx, number int64) error {
		var length float64
		if err := tx.QueryRow("SELECT length_s FROM session WHERE number = ?", number).Scan(&length); err != nil {
			return err
		}
		if !(m.At >= 0 && m.At <= length) {
			return fmt.Errorf("%g s lies outside the session's %.1f s", m.At, length)
		}
		if m.Kind == "" {
			m.Kind = telemetry.MarkUser
		}
		m.Text = session.Clean(m.Text, 500)
		if err := tx.QueryRow("SELECT max(0, coalesce(max(id), 0)) + 1 FROM mark WHERE session = ?", number).Scan(&m.ID); err != nil {
			return err
		}
		return putMark(tx, number, m)
	})
	return m, err
}

// EditMark corrects the text of a mark of a closed session; the original stays in the
// history.
func (s *Store) EditMark(ctx context.Context, id string, mark int64, text string) error {
	return s.change(ctx, "edit a mark of", id, func(tx *sql.Tx, number int64) error {
		var before string
		err := tx.QueryRow("SELECT text FROM mark WHERE session = ? AND id = ?", number, mark).Scan(&before)
		if err == sql.ErrNoRows {
			return fmt.Errorf("it has no mark %d", mark)
		}
		if err != nil {
			return err
		}
		if err := putHistory(tx, number, s.now(), "mark", strconv.FormatInt(mark, 10), before); err != nil {
			return err
		}
		_, err = tx.Exec("UPDATE mark SET text = ? WHERE session = ? AND id = ?", session.Clean(text, 500), number, mark)
		return err
	})
}

// SetSetting corrects the setup of a closed session; an empty value takes the key out.
// What stood there stays in the history.
func (s *Store) SetSetting(ctx context.Context, id, key, value string) error {
	key, value = session.Clean(key, 60), session.Clean(value, 500)
	return s.change(ctx, "correct the setup of", id, func(tx *sql.Tx, number int64) error {
		if key == "" {
			return fmt.Errorf("a setting needs a key, such as cooler or paste")
		}
		stored, err := loadSetup(ctx, tx, number)
		if err != nil {
			return err
		}
		setup := slices.Clone(stored)
		i := slices.IndexFunc(setup, func(kv telemetry.Setting) bool { return kv.Key == key })
		switch {
		case i >= 0 && value == "":
			setup = slices.Delete(setup, i, i+1)
		case i >= 0:
			setup[i].Value = value
		case value != "":
			setup = append(setup, telemetry.Setting{Key: key, Value: value})
		}
		return putSetup(tx, number, s.now(), stored, setup)
	})
}

// Correction is what stood in a mark or a setting before it was changed.
type Correction struct {
	Changed time.Time
	What    string // "mark" or "setting"
	Item    string // the mark's ID or the setting's key
	Before  string
}

// History gives what was corrected in a session, the oldest first.
func (s *Store) History(ctx context.Context, id string) ([]Correction, error) {
	list, err := s.history(ctx, id)
	return list, fault("read the history of", id, err)
}

func (s *Store) history(ctx context.Context, id string) ([]Correction, error) {
	r, err := resolve(ctx, s.read, id)
	if err != nil {
		return nil, err
	}
	rows, err := s.read.QueryContext(ctx, "SELECT changed, what, item, before FROM history WHERE session = ? ORDER BY number", r.number)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []Correction
	for rows.Next() {
		var c Correction
		var changed sql.NullString
		if err := rows.Scan(&changed, &c.What, &c.Item, &c.Before); err != nil {
			return nil, err
		}
		if c.Changed, err = parseTime(changed); err != nil {
			return nil, err
		}
		list = append(list, c)
	}
	return list, rows.Err()
}
