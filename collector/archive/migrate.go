package archive

import (
	"database/sql"
	_ "embed"
	"fmt"
)

//go:embed schema.sql
var schemaSQL string

//go:embed schema2.sql
var schema2SQL string

// migrations bring an archive from version i to i+1. They only ever go forward: add at
// the end, never change one that was released.
var migrations = []string{schemaSQL, schema2SQL}

// migrate brings a file to the newest version, each step in a transaction of its own. A
// file that is up to date is only looked at, so that it opens while another process writes.
func migrate(db *sql.DB, steps []string) error {
	var version int
	if err := db.QueryRow("PRAGMA user_version").Scan(&version); err != nil || version == len(steps) {
		return err
	}
	for {
		done, err := step(db, steps)
		if done || err != nil {
			return err
		}
	}
}

// step takes the next step, if there is one. The version is read inside the transaction,
// so that two programs that open the file at once take it only once.
func step(db *sql.DB, steps []string) (done bool, err error) {
	tx, err := db.Begin()
	if err != nil {
		return false, err
	}
	defer tx.Rollback()
	var version int
	if err := tx.QueryRow("PRAGMA user_version").Scan(&version); err != nil {
		return false, err
	}
	if version > len(steps) {
		return false, fmt.Errorf("%w: schema version %d, this program knows %d", ErrNewer, version, len(steps))
	}
	if version == len(steps) {
		return true, nil
	}
	if _, err := tx.Exec(steps[version]); err != nil {
		return false, fmt.Errorf("migrate from version %d: %w", version, err)
	}
	if _, err := tx.Exec(fmt.Sprintf("PRAGMA user_version = %d", version+1)); err != nil {
		return false, err
	}
	return false, tx.Commit()
}
