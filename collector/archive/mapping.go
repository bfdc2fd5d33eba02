package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
)

// RememberMapping keeps how the columns of files with one header are read: columns is
// anything that JSON can hold. An earlier one is replaced.
func (s *Store) RememberMapping(ctx context.Context, header string, columns any) error {
	text, err := json.Marshal(columns)
	if err == nil {
		err = s.update(ctx, func(tx *sql.Tx) error {
			_, err := tx.Exec("INSERT OR REPLACE INTO mapping (header, columns, used) VALUES (?, ?, ?)", header, string(text), timeText(s.now()))
			return err
		})
	}
	return fault("remember a mapping in", s.path, err)
}

// RecallMapping reads what RememberMapping kept into columns; known is false where there
// is nothing.
func (s *Store) RecallMapping(ctx context.Context, header string, columns any) (known bool, err error) {
	var text string
	err = s.read.QueryRowContext(ctx, "SELECT columns FROM mapping WHERE header = ?", header).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	if err == nil {
		err = json.Unmarshal([]byte(text), columns)
	}
	return err == nil, fault("recall a mapping from", s.path, err)
}

// ForgetMapping removes what RememberMapping kept.
func (s *Store) ForgetMapping(ctx context.Context, header string) error {
	return fault("forget a mapping in", s.path, s.update(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec("DELETE FROM mapping WHERE header = ?", header)
		return err
	}))
}
