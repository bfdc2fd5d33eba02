package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"soakline/collector/session"
	"soakline/collector/telemetry"
)

// commit writes what is new in one transaction and says whether more rows wait. What
// the recorder knows of the disk changes only once the disk has it.
func (r *Recorder) commit() (more bool, err error) {
	chunks, lost := r.gather() // before the channels: the ring never has more of them
	next := *r.next()
	if len(chunks) == 0 && r.number != 0 && next.changes == r.changes {
		return false, nil
	}
	if r.lock == nil {
		if r.lock, err = r.store.lock(r.session.Info().ID); err != nil || r.lock == nil {
			return false, orHeld(err)
		}
	}
	bytes := int64(0)
	err = r.store.update(context.Background(), func(tx *sql.Tx) error {
		if err := r.writeHead(tx, &next); err != nil {
			return err
		}
		if lost > 0 {
			if err := r.markHole(tx, next.number, chunks[0], lost); err != nil {
				return err
			}
		}
		bytes, err = writePlain(tx, next.number, chunks, next.widths)
		return err
	})
	if err != nil {
		return false, err
	}
	r.keep(next, chunks, lost, bytes)
	return r.session.Ring().Last() > r.after, nil
}

func orHeld(err error) error {
	if err != nil {
		return err
	}
	return errHeld
}

// head is what the archive holds of a session beside its rows.
type head struct {
	number   int64
	changes  uint64
	channels []telemetry.Channel
	widths   []int
	marks    []telemetry.Mark
	setup    []telemetry.Setting
	edits    []session.Edit
	scores   []telemetry.Score
}

// next is the head as the session has it now.
func (r *Recorder) next() *head {
	h := &head{number: r.number, changes: r.session.Changes()} // first: a later change is seen next time
	h.channels, _ = r.session.Channels()
	h.marks, h.setup, h.edits, h.scores = r.session.Marks(), r.session.Setup(), r.session.Edits(), r.session.Scores()
	for _, c := range h.channels {
		h.widths = append(h.widths, width(c.Quantity))
	}
	return h
}

// keep takes over what the disk has taken.
func (r *Recorder) keep(h head, chunks []*chunk, lost uint64, bytes int64) {
	r.number, r.changes, r.widths = h.number, h.changes, h.widths
	r.marks, r.setup, r.edits, r.scores = h.marks, h.setup, len(h.edits), h.scores
	rows := 0
	for _, c := range chunks {
		r.after = c.first + uint64(len(c.at)) - 1
		r.length = c.at[len(c.at)-1]
		rows += len(c.at)
	}
	if lost > 0 {
		r.holes++
	}
	r.mu.Lock()
	r.status.Rows += uint64(rows)
	r.status.Lost += lost
	r.status.Bytes += bytes
	r.mu.Unlock()
}

// writeHead stores the session when it is new, and what changed about it.
func (r *Recorder) writeHead(tx *sql.Tx, h *head) error {
	if h.number == 0 {
		i := r.session.Info()
		if err := insertSession(tx, h, i.ID, "", r.store.now(), i); err != nil {
			return err
		}
	}
	for i := len(r.widths); i < len(h.channels); i++ {
		if err := insertChannel(tx, h.number, i, h.channels[i], h.widths[i], true); err != nil {
			return err
		}
	}
	for _, m := range changedMarks(r.marks, h.marks) {
		if err := putMark(tx, h.number, m); err != nil {
			return err
		}
	}
	for _, e := range h.edits[r.edits:] {
		at := r.session.Info().Start.Add(time.Duration(e.At * float64(time.Second)))
		if err := putHistory(tx, h.number, at, "mark", fmt.Sprint(e.ID), e.Text); err != nil {
			return err
		}
	}
	if err := putScores(tx, h.number, r.scores, h.scores); err != nil {
		return err
	}
	return putSetup(tx, h.number, r.store.now(), r.setup, h.setup)
}

// markHole notes rows that the ring no longer held when the disk was ready again.
func (r *Recorder) markHole(tx *sql.Tx, number int64, after *chunk, lost uint64) error {
	return putMark(tx, number, telemetry.Mark{ID: -1 - r.holes, At: after.at[0], Kind: telemetry.MarkMachine,
		Text: fmt.Sprintf("%d rows before this one could not be stored", lost)})
}

// insertSession gives the session its number.
func insertSession(tx *sql.Tx, h *head, id, name string, now time.Time, i session.Info) error {
	res, err := tx.Exec(`INSERT INTO session (id, name, stored, start, host, system, origin, simulated, period_s, state)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, 'recording')`,
		id, name, timeText(now), timeText(i.Start), i.Host, i.System, string(i.Origin), i.Simulated, i.Period.Seconds())
	if err != nil {
		return err
	}
	h.number, err = res.LastInsertId()
	return err
}

// insertChannel stores channel i. stated is false where its states were worked out.
func insertChannel(tx *sql.Tx, number int64, i int, c telemetry.Channel, width int, stated bool) error {
	labels, err := json.Marshal(c.Labels)
	if err != nil {
		return err
	}
	bits, err := json.Marshal(c.Bits)
	if err != nil {
		return err
	}
	_, err = tx.Exec(`INSERT INTO channel (session, position, key, name, quantity, unit, role, source, device,
		refresh_s, simulated, width, stated, labels, bits) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		number, i, c.Key, c.Name, c.Quantity.String(), c.Quantity.Unit(), string(c.Role), c.Source, c.Device,
		c.Refresh.Seconds(), c.Simulated, width, stated, string(labels), string(bits))
	return err
}

func putMark(tx *sql.Tx, number int64, m telemetry.Mark) error {
	_, err := tx.Exec("INSERT OR REPLACE INTO mark (session, id, at_s, kind, text) VALUES (?, ?, ?, ?, ?)",
		number, m.ID, m.At, string(m.Kind), m.Text)
	return err
}

func putHistory(tx *sql.Tx, number int64, at time.Time, what, item, before string) error {
	_, err := tx.Exec("INSERT INTO history (session, changed, what, item, before) VALUES (?, ?, ?, ?, ?)",
		number, timeText(at), what, item, before)
	return err
}

// putSetup makes the stored setup the one that stands now; what stood before goes into
// the history.
func putSetup(tx *sql.Tx, number int64, now time.Time, stored, setup []telemetry.Setting) error {
	later := map[string]string{}
	for _, s := range setup {
		later[s.Key] = s.Value
	}
	for _, s := range stored {
		if v, ok := later[s.Key]; !ok || v != s.Value {
			if err := putHistory(tx, number, now, "setting", s.Key, s.Value); err != nil {
				return err
			}
		}
	}
	for i, s := range setup {
		if i < len(stored) && stored[i] == s {
			continue
		}
		if _, err := tx.Exec("INSERT OR REPLACE INTO setting (session, position, key, value) VALUES (?, ?, ?, ?)",
			number, i, s.Key, s.Value); err != nil {
			return err
		}
	}
	_, err := tx.Exec("DELETE FROM setting WHERE session = ? AND position >= ?", number, len(setup))
	return err
}

// writePlain stores rows as they came and brings the session's totals up to date.
func writePlain(tx *sql.Tx, number int64, chunks []*chunk, widths []int) (bytes int64, err error) {
	if len(chunks) == 0 {
		return 0, nil
	}
	rows := 0
	for _, c := range chunks {
		data := c.plain(widths)
		if err := insertBlock(tx, number, c, formPlain, data); err != nil {
			return 0, err
		}
		bytes, rows = bytes+int64(len(data)), rows+len(c.at)
	}
	last := chunks[len(chunks)-1]
	_, err = tx.Exec("UPDATE session SET rows = rows + ?, bytes = bytes + ?, length_s = ? WHERE number = ?",
		rows, bytes, last.at[len(last.at)-1], number)
	return bytes, err
}

// The forms of a block, see schema.sql.
const (
	formPlain  = 0
	formPacked = 1
)

func insertBlock(tx *sql.Tx, number int64, c *chunk, form int, data []byte) error {
	_, err := tx.Exec("INSERT INTO block (session, first, rows, channels, form, data) VALUES (?, ?, ?, ?, ?, ?)",
		number, int64(c.first), len(c.at), len(c.values), form, data)
	return err
}
