package archive

import (
	"context"
	"database/sql"
	"strings"
	"time"

	"soakline/collector/telemetry"
)

// State is how a session stands in the archive.
type State string

// The states.
const (
	StateRecording State = "recording"
	StateClosed    State = "closed"
	StateBroken    State = "broken off"
)

// Entry is a session as a list shows it.
type Entry struct {
	ID        string
	Name      string    // what the user calls it, or ""
	Stored    time.Time // when it came into the archive
	Start     time.Time // of the first sample; zero if a file did not say
	Length    time.Duration
	Channels  int
	Rows      int64
	State     State
	Why       string // why it ended
	Origin    string // live, rig, replay or import
	Host      string
	System    string
	Period    time.Duration // 0 if steps are uneven
	Simulated bool
	Setup     []telemetry.Setting
	Marks     int
	Scores    []telemetry.Score
	Pinned    bool      // never removed by itself
	Deleted   time.Time // when it was deleted; zero: it is not
	Bytes     int64     // of its blocks on the disk
}

// Filter chooses sessions; its zero value is all of them.
type Filter struct {
	Text   string    // part of the id, the name or a setting, whatever its case
	State  State     // "" is any
	Origin string    // "" is any
	Since  time.Time // stored at or after it
	Limit  int       // at most so many, 0 is all
	// Deleted lists the deleted sessions that can still be restored, instead of the others.
	Deleted bool
}

// Sessions lists the sessions, the newest first.
func (s *Store) Sessions(ctx context.Context, f Filter) ([]Entry, error) {
	tx, err := s.read.BeginTx(ctx, nil)
	if err != nil {
		return nil, fault("list", s.path, err)
	}
	defer tx.Rollback()
	list, err := sessions(ctx, tx, f)
	return list, fault("list", s.path, err)
}

func sessions(ctx context.Context, tx *sql.Tx, f Filter) ([]Entry, error) {
	rows, err := tx.QueryContext(ctx, `SELECT number, id, name, stored, start, length_s, rows, state, why, origin, host, system,
		period_s, simulated, bytes, pinned, deleted, (SELECT count(*) FROM channel WHERE session = number), (SELECT count(*) FROM mark WHERE session = number)
		FROM session WHERE (?1 = '' OR state = ?1) AND (?2 = '' OR origin = ?2) AND (?3 IS NULL OR stored >= ?3) AND (deleted IS NOT NULL) = ?4
		ORDER BY stored DESC, number DESC`, string(f.State), f.Origin, timeText(f.Since), f.Deleted)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []Entry
	for rows.Next() {
		e, number, err := scanEntry(rows)
		if err != nil {
			return nil, err
		}
		if e.Setup, err = loadSetup(ctx, tx, number); err != nil {
			return nil, err
		}
		if e.Scores, err = loadScores(ctx, tx, number); err != nil {
			return nil, err
		}
		if !e.holds(f.Text) {
			continue
		}
		if list = append(list, e); len(list) == f.Limit {
			break
		}
	}
	return list, rows.Err()
}

func scanEntry(rows *sql.Rows) (e Entry, number int64, err error) {
	var stored, start, deleted sql.NullString
	var length, period float64
	if err := rows.Scan(&number, &e.ID, &e.Name, &stored, &start, &length, &e.Rows, &e.State, &e.Why, &e.Origin, &e.Host, &e.System,
		&period, &e.Simulated, &e.Bytes, &e.Pinned, &deleted, &e.Channels, &e.Marks); err != nil {
		return e, 0, err
	}
	e.Length, e.Period = seconds(length), seconds(period)
	if e.Stored, err = parseTime(stored); err == nil {
		e.Start, err = parseTime(start)
	}
	if err == nil {
		e.Deleted, err = parseTime(deleted)
	}
	return e, number, err
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// holds is true where any text of the entry holds the part.
func (e *Entry) holds(part string) bool {
	part = strings.ToLower(part)
	has := func(s string) bool { return strings.Contains(strings.ToLower(s), part) }
	if part == "" || has(e.ID) || has(e.Name) {
		return true
	}
	for _, s := range e.Setup {
		if has(s.Key + " = " + s.Value) {
			return true
		}
	}
	return false
}
