package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// undoFor is how long a deleted session can be restored where nobody purges before.
const undoFor = 30 * 24 * time.Hour

// Pin keeps a session from being removed by itself, or lets go of it again.
func (s *Store) Pin(ctx context.Context, id string, pinned bool) error {
	return fault("pin", id, s.update(ctx, func(tx *sql.Tx) error {
		r, err := resolve(ctx, tx, id)
		if err == nil {
			_, err = tx.Exec("UPDATE session SET pinned = ? WHERE number = ?", pinned, r.number)
		}
		return err
	}))
}

// ErrPinned says that a session is pinned.
var ErrPinned = errors.New("it is pinned")

// Delete takes a closed session that is not pinned off the lists. Restore brings it back,
// until Purge or, 30 days later, Tidy removes it for good.
func (s *Store) Delete(ctx context.Context, id string) error {
	return s.change(ctx, "delete", id, func(tx *sql.Tx, number int64) error {
		var pinned bool
		if err := tx.QueryRow("SELECT pinned FROM session WHERE number = ?", number).Scan(&pinned); err != nil {
			return err
		}
		if pinned {
			return ErrPinned
		}
		_, err := tx.Exec("UPDATE session SET deleted = ? WHERE number = ?", timeText(s.now()), number)
		return err
	})
}

// Restore brings a deleted session back; Last names the one deleted last.
func (s *Store) Restore(ctx context.Context, id string) (restored string, err error) {
	err = s.update(ctx, func(tx *sql.Tx) error {
		var r ref
		var err error
		if id == Last {
			err = tx.QueryRowContext(ctx, "SELECT number, id FROM session WHERE deleted IS NOT NULL ORDER BY deleted DESC LIMIT 1").Scan(&r.number, &r.id)
			if errors.Is(err, sql.ErrNoRows) {
				err = fmt.Errorf("%w among those deleted", ErrNotFound)
			}
		} else {
			r, err = resolveAmong(ctx, tx, id, "deleted IS NOT NULL")
		}
		if err != nil {
			return err
		}
		restored = r.id
		_, err = tx.Exec("UPDATE session SET deleted = NULL WHERE number = ?", r.number)
		return err
	})
	return restored, fault("restore", id, err)
}

// Purge removes every deleted session for good, gives the space back and says how many
// there were.
func (s *Store) Purge(ctx context.Context) (int, error) {
	n, err := s.remove(ctx, "deleted IS NOT NULL")
	return n, fault("purge", s.path, err)
}

// remove takes sessions that a condition chooses out of the archive. One that is recorded
// or pinned is never among them.
func (s *Store) remove(ctx context.Context, which string, args ...any) (int, error) {
	var n int64
	err := s.update(ctx, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, "DELETE FROM session WHERE state != 'recording' AND NOT pinned AND ("+which+")", args...)
		if err == nil {
			n, err = res.RowsAffected()
		}
		return err
	})
	if err == nil && n > 0 {
		err = s.shrink(ctx)
	}
	return int(n), err
}

// Keeping says which sessions are removed by themselves; its zero value is none.
type Keeping struct {
	Age   time.Duration // those older than it
	Bytes int64         // the oldest, until the rest takes no more
}

// Keep sets what is kept from now on. Nothing is removed yet: Tidy does that, after the
// next recording, and Expired says what it would be.
func (s *Store) Keep(ctx context.Context, k Keeping) error {
	if k.Age < 0 || k.Bytes < 0 {
		return fault("keep", s.path, errors.New("an age or a size below 0"))
	}
	return fault("keep", s.path, s.update(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec("INSERT OR REPLACE INTO keeping (only, age_s, bytes) VALUES (1, ?, ?)", k.Age.Seconds(), k.Bytes)
		return err
	}))
}

// Kept gives what Keep set.
func (s *Store) Kept(ctx context.Context) (Keeping, error) {
	k, err := kept(ctx, s.read)
	return k, fault("read what is kept of", s.path, err)
}

func kept(ctx context.Context, q querier) (k Keeping, err error) {
	var age float64
	err = q.QueryRowContext(ctx, "SELECT age_s, bytes FROM keeping").Scan(&age, &k.Bytes)
	if errors.Is(err, sql.ErrNoRows) {
		return k, nil
	}
	k.Age = seconds(age)
	return k, err
}

// expiring chooses the sessions that are no longer kept: ?1 is the time before which a
// session is too old, ?2 the bytes that all may take, ?3 the time before which a deleted
// one is given up. What came last is counted first, pinned and recording ones before all;
// the newest stays whatever it takes.
const expiring = `SELECT number FROM (
	SELECT number, stored, deleted, state, pinned, sum(bytes) OVER (
		ORDER BY deleted IS NOT NULL, state != 'recording' AND NOT pinned, stored DESC, number DESC) AS total FROM session)
	WHERE state != 'recording' AND NOT pinned AND (?1 IS NOT NULL AND stored < ?1 OR ?2 > 0 AND total > ?2 OR deleted < ?3)
	AND number IS NOT (SELECT number FROM session WHERE deleted IS NULL ORDER BY stored DESC, number DESC LIMIT 1)`

func (s *Store) expiringArgs(k Keeping) []any {
	var before any
	if k.Age > 0 {
		before = timeText(s.now().Add(-k.Age))
	}
	return []any{before, k.Bytes, timeText(s.now().Add(-undoFor))}
}

// Expired gives the ids of the sessions that the next Tidy removes if k is kept, the
// oldest first.
func (s *Store) Expired(ctx context.Context, k Keeping) ([]string, error) {
	rows, err := s.read.QueryContext(ctx, "SELECT id FROM session WHERE number IN ("+expiring+") ORDER BY stored, number", s.expiringArgs(k)...)
	if err != nil {
		return nil, fault("list", s.path, err)
	}
	defer rows.Close()
	var ids []string
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return nil, fault("list", s.path, err)
		}
		ids = append(ids, id)
	}
	return ids, fault("list", s.path, rows.Err())
}

// expire removes what is no longer kept.
func (s *Store) expire(ctx context.Context) error {
	k, err := kept(ctx, s.read)
	if err != nil {
		return err
	}
	n, err := s.remove(ctx, "number IN ("+expiring+")", s.expiringArgs(k)...)
	if n > 0 {
		s.log.Info("sessions were removed, as you asked to keep no more", "sessions", n, "age", k.Age, "bytes", k.Bytes)
	}
	return err
}
