package archive

import (
	"context"
	"crypto/rand"
	"database/sql"
	"math"
	"slices"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/session"
	"soakline/collector/telemetry"
)

// OriginImport is the origin of a session that came from a file.
const OriginImport = "import"

// Import stores a whole trace and gives the id that it has from now on.
func (s *Store) Import(ctx context.Context, t *telemetry.Trace, name string) (id string, err error) {
	if len(t.Time) == 0 {
		return "", fault("import", name, errNoSamples)
	}
	now, widths := s.now(), traceWidths(t)
	id = session.NewID(now, rand.Reader)
	info := session.Info{Start: t.Start, Origin: OriginImport, Simulated: t.Simulated}
	err = s.update(ctx, func(tx *sql.Tx) error {
		h := &head{}
		if err := insertSession(tx, h, id, session.Clean(name, 200), now, info); err != nil {
			return err
		}
		if err := importHead(tx, h.number, t, widths, now); err != nil {
			return err
		}
		bytes, err := importRows(tx, h.number, t, widths)
		if err != nil {
			return err
		}
		_, err = tx.Exec("UPDATE session SET state = 'closed', why = 'imported', rows = ?, bytes = ?, length_s = ? WHERE number = ?",
			len(t.Time), bytes, t.Time[len(t.Time)-1], h.number)
		return err
	})
	return id, fault("import", name, err)
}

func importHead(tx *sql.Tx, number int64, t *telemetry.Trace, widths []int, now time.Time) error {
	for i, c := range t.Channels {
		stated := i < len(t.States) && t.States[i] != nil
		if err := insertChannel(tx, number, i, c, widths[i], stated); err != nil {
			return err
		}
	}
	return importNotes(tx, number, t, now)
}

// importNotes stores marks, scores and setup.
func importNotes(tx *sql.Tx, number int64, t *telemetry.Trace, now time.Time) error {
	for i, m := range t.Marks {
		m.ID = int64(i + 1)
		if err := putMark(tx, number, m); err != nil {
			return err
		}
	}
	if err := putScores(tx, number, nil, t.Scores); err != nil {
		return err
	}
	return putSetup(tx, number, now, nil, t.Setup)
}

// traceWidths gives each channel the width that keeps its values as they are.
func traceWidths(t *telemetry.Trace) []int {
	widths := make([]int, len(t.Channels))
	for i, c := range t.Channels {
		widths[i] = width(c.Quantity)
		if widths[i] == 4 && c.Quantity != quantity.Label &&
			slices.ContainsFunc(t.Values[i], func(v float64) bool { return !math.IsNaN(v) && widen(float32(v)) != v }) {
			widths[i] = 8
		}
	}
	return widths
}

func importRows(tx *sql.Tx, number int64, t *telemetry.Trace, widths []int) (bytes int64, err error) {
	for from := 0; from < len(t.Time); from += packRows {
		to := min(from+packRows, len(t.Time))
		c := newChunk(uint64(from+1), len(t.Channels), to-from)
		c.at = append(c.at, t.Time[from:to]...)
		for k := range t.Channels {
			c.values[k] = append(c.values[k], t.Values[k][from:to]...)
			for i := from; i < to; i++ {
				c.states[k] = append(c.states[k], t.StateAt(k, i))
			}
		}
		data, err := c.pack(widths)
		if err != nil {
			return 0, err
		}
		if err := insertBlock(tx, number, c, formPacked, data); err != nil {
			return 0, err
		}
		bytes += int64(len(data))
	}
	return bytes, nil
}
