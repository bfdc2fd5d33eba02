package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strconv"

	"soakline/collector/session"
	"soakline/collector/telemetry"
)

// putScores makes the stored scores of a running session those that stand now. They grow
// at the end, and one may be replaced in its place.
func putScores(tx *sql.Tx, number int64, stored, now []telemetry.Score) error {
	for i, sc := range now {
		if i < len(stored) && stored[i] == sc {
			continue
		}
		if err := putScore(tx, number, i, sc); err != nil {
			return err
		}
	}
	return nil
}

func putScore(tx *sql.Tx, number int64, position int, sc telemetry.Score) error {
	_, err := tx.Exec("INSERT OR REPLACE INTO score (session, position, name, value, unit, higher_is_better, at_s) VALUES (?, ?, ?, ?, ?, ?, ?)",
		number, position, sc.Name, sc.Value, sc.Unit, sc.HigherIsBetter, sc.At)
	return err
}

func loadScores(ctx context.Context, q querier, number int64) ([]telemetry.Score, error) {
	rows, err := q.QueryContext(ctx, "SELECT name, value, unit, higher_is_better, at_s FROM score WHERE session = ? ORDER BY position", number)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []telemetry.Score
	for rows.Next() {
		var sc telemetry.Score
		if err := rows.Scan(&sc.Name, &sc.Value, &sc.Unit, &sc.HigherIsBetter, &sc.At); err != nil {
			return nil, err
		}
		list = append(list, sc)
	}
	return list, rows.Err()
}

// SetScore gives a closed session a score and gives it back as stored. A time below 0 is
// the session's end. One of the same name and time is replaced; what stood there stays in
// the history.
func (s *Store) SetScore(ctx context.Context, id string, sc telemetry.Score) (telemetry.Score, error) {
	sc, err := session.CleanScore(sc)
	if err != nil {
		return sc, fault("score", id, err)
	}
	err = s.change(ctx, "score", id, func(tx *sql.Tx, number int64) error {
		var length float64
		if err := tx.QueryRow("SELECT length_s FROM session WHERE number = ?", number).Scan(&length); err != nil {
			return err
		}
		switch {
		case sc.At < 0:
			sc.At = length
		case !(sc.At <= length):
			return fmt.Errorf("%g s lies outside the session's %.1f s", sc.At, length)
		}
		var position int
		var before, unit string
		err := tx.QueryRow("SELECT position, value, unit FROM score WHERE session = ? AND name = ? AND at_s = ?", number, sc.Name, sc.At).Scan(&position, &before, &unit)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			err = tx.QueryRow("SELECT coalesce(max(position), -1) + 1 FROM score WHERE session = ?", number).Scan(&position)
		case err == nil:
			err = putHistory(tx, number, s.now(), "score", sc.Name, shortNumber(before)+" "+unit)
		}
		if err != nil {
			return err
		}
		return putScore(tx, number, position, sc)
	})
	return sc, err
}

func shortNumber(text string) string {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return text
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}
