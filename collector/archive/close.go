package archive

import (
	"context"
	"database/sql"
	"fmt"

	"soakline/collector/telemetry"
)

// BrokenOff is the mark at the last row of a session that a crash ended.
const BrokenOff = "recording broke off here"

// closeSession ends a recording in good order.
func (s *Store) closeSession(number int64, why string) error {
	return s.update(context.Background(), func(tx *sql.Tx) error {
		_, err := tx.Exec("UPDATE session SET state = 'closed', why = ? WHERE number = ?", why, number)
		return err
	})
}

// closeBroken closes the sessions that no process records any more.
func (s *Store) closeBroken(ctx context.Context) error {
	open, err := s.ids(ctx, "SELECT number, id FROM session WHERE state = 'recording'")
	if err != nil {
		return err
	}
	for _, o := range open {
		lock, err := s.lock(o.id)
		if err != nil {
			return err
		}
		if lock == nil {
			continue // somebody is at it
		}
		err = s.breakOff(ctx, o)
		lock.release()
		if err != nil {
			return err
		}
	}
	if len(open) > 0 {
		// What the crash left in the log belongs into the file. Readers may be in the way: no matter.
		if _, err := s.write.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
			s.log.Debug("the log stays beside the archive", "err", err)
		}
	}
	return nil
}

// breakOff closes one session at its last row. The state is looked at again under the
// lock: its recorder may have closed it in the meantime.
func (s *Store) breakOff(ctx context.Context, o ref) error {
	return s.update(ctx, func(tx *sql.Tx) error {
		// Half a file is no session: it can be imported again.
		if _, err := tx.ExecContext(ctx, "DELETE FROM session WHERE number = ? AND state = 'recording' AND origin = ?", o.number, OriginImport); err != nil {
			return err
		}
		res, err := tx.ExecContext(ctx, `UPDATE session SET state = 'broken off',
			why = printf('the recording broke off after %.1f s', length_s) WHERE number = ? AND state = 'recording'`, o.number)
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); n == 0 {
			return err
		}
		s.log.Warn("a session had broken off and is closed now", "session", o.id)
		_, err = tx.ExecContext(ctx, `INSERT INTO mark (session, id, at_s, kind, text)
			SELECT number, min(0, coalesce((SELECT min(id) FROM mark WHERE session = number), 0)) - 1, length_s, ?, ?
			FROM session WHERE number = ?`, string(telemetry.MarkMachine), BrokenOff, o.number)
		return err
	})
}

// ref is a session's number and id.
type ref struct {
	number int64
	id     string
}

func (s *Store) ids(ctx context.Context, query string) ([]ref, error) {
	rows, err := s.read.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var refs []ref
	for rows.Next() {
		var r ref
		if err := rows.Scan(&r.number, &r.id); err != nil {
			return nil, err
		}
		refs = append(refs, r)
	}
	return refs, rows.Err()
}

// packRows is how many rows a packed block holds: with 100 channels about 1 MB before
// packing, which is what a reader has to hold.
const packRows = 2400

// Tidy packs every session that is no longer recorded, removes those that the user asked
// not to keep and those deleted long ago, and gives the space back to the system. It may
// be stopped at any time; what is packed stays packed.
func (s *Store) Tidy(ctx context.Context) error {
	refs, err := s.ids(ctx, `SELECT number, id FROM session WHERE state != 'recording'
		AND deleted IS NULL AND EXISTS (SELECT 1 FROM block WHERE session = number AND form = 0)`)
	if err != nil {
		return fault("tidy", s.path, err)
	}
	for _, r := range refs {
		if err := s.packSession(ctx, r); err != nil {
			return fault("pack", r.id, err)
		}
	}
	if len(refs) > 0 {
		err = s.shrink(ctx)
	}
	if err == nil {
		err = s.expire(ctx)
	}
	return fault("tidy", s.path, err)
}

// shrink gives free pages back. The pragma frees a page each time it is stepped.
func (s *Store) shrink(ctx context.Context) error {
	rows, err := s.write.QueryContext(ctx, "PRAGMA incremental_vacuum")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
	}
	return rows.Err()
}

// packSession packs its plain blocks, packRows rows a transaction.
func (s *Store) packSession(ctx context.Context, r ref) error {
	widths, err := s.widths(ctx, r.number)
	if err != nil {
		return err
	}
	for {
		blocks, err := s.blocks(ctx, r.number, formPlain, packRows)
		if err != nil || len(blocks) == 0 {
			return err
		}
		if err := s.packBlocks(ctx, r.number, blocks, widths); err != nil {
			return err
		}
	}
}

// packBlocks puts packed blocks in the place of plain ones. A hole between rows and a
// change in the number of channels begin a new block.
func (s *Store) packBlocks(ctx context.Context, number int64, blocks []block, widths []int) error {
	var packed []*chunk
	var before, after int64
	for _, b := range blocks {
		c, err := b.chunk(widths)
		if err != nil {
			return err
		}
		before += int64(len(b.data))
		if n := len(packed); n > 0 {
			last := packed[n-1]
			if last.first+uint64(len(last.at)) == c.first && len(last.values) == len(c.values) {
				last.append(c)
				continue
			}
		}
		packed = append(packed, c)
	}
	return s.update(ctx, func(tx *sql.Tx) error {
		for _, b := range blocks {
			if _, err := tx.Exec("DELETE FROM block WHERE session = ? AND first = ?", number, int64(b.first)); err != nil {
				return err
			}
		}
		for _, c := range packed {
			data, err := c.pack(widths)
			if err != nil {
				return err
			}
			after += int64(len(data))
			if err := insertBlock(tx, number, c, formPacked, data); err != nil {
				return fmt.Errorf("row %d: %w", c.first, err)
			}
		}
		_, err := tx.Exec("UPDATE session SET bytes = bytes + ? WHERE number = ?", after-before, number)
		return err
	})
}
