package tracefile

import (
	"fmt"
	"io"

	"soakline/collector/telemetry"
)

// Rows reads a trace file piece by piece: memory holds one piece, however long the file.
type Rows struct {
	reader *reader
	ended  error
}

// NewRows reads the notes before the header and the header. The values follow by Next.
func NewRows(r io.Reader, o Options) (*Rows, error) {
	f, err := newReader(r, o)
	if err != nil {
		return nil, err
	}
	return &Rows{reader: f}, nil
}

// Next reads up to most rows: Time, Values and States alone, columns in the order of
// Head's channels. The error is io.EOF, with no rows, at the end.
func (r *Rows) Next(most int) (*telemetry.Trace, error) {
	if r.ended != nil {
		return nil, r.ended
	}
	if r.ended = r.reader.rows(max(1, most)); r.ended != nil && r.ended != io.EOF {
		return nil, r.ended
	}
	piece := r.reader.take()
	if len(piece.Time) == 0 {
		return nil, io.EOF
	}
	return piece, nil
}

// Head gives all that the file says beside its rows. It is complete at the end.
func (r *Rows) Head() (*telemetry.Trace, error) {
	if r.ended != io.EOF {
		return nil, fmt.Errorf("%s: it is not read to its end", r.reader.file)
	}
	return r.reader.head()
}

// Signature tells files of another header apart: a mapping is remembered under it.
func (r *Rows) Signature() string { return r.reader.signature }

// Guesses says in plain words what was taken from names alone: which unit a column that
// states none was read in. It is complete at the end.
func (r *Rows) Guesses() []string {
	var list []string
	for _, c := range r.reader.columns {
		if c.guessed && c.decided {
			list = append(list, fmt.Sprintf("%q says no unit: read as %s, in %s", c.name, c.unit.Kind, c.symbol))
		}
	}
	return list
}
