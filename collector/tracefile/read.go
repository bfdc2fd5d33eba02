package tracefile

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Options say how to read a trace. The zero value reads what Write writes, and guesses
// what other files mean.
type Options struct {
	// Name is the file's name in messages; empty is the reader's own name, else "trace".
	Name string
	// Roles overrides the meaning of channels: role to channel name.
	Roles map[telemetry.Role]string
	// Map says how columns are read, against what their headers say.
	Map []Assignment
	// Recall gives the mapping remembered for a header's signature where Map is empty; it
	// may be nil.
	Recall func(signature string) []Assignment
	// HeaderLine is the line on which the header stands, counted from 1; those before it
	// are not read. 0 is the first that is neither blank nor a note.
	HeaderLine int
	// Zone is where dates without a zone were written; nil is UTC.
	Zone *time.Location
	// Dates tells day and month of a date with slashes apart.
	Dates DateOrder
}

// Read reads a trace file as it streams in; memory holds the columns alone. Errors are
// *Error where the file is to blame, an error of telemetry.Resolve where an override is.
func Read(r io.Reader, o Options) (*telemetry.Trace, error) {
	f, err := newReader(r, o)
	if err != nil {
		return nil, err
	}
	if err := f.rows(0); err != nil && err != io.EOF {
		return nil, err
	}
	piece := f.take()
	t, err := f.head()
	if err != nil {
		return nil, err
	}
	t.Time, t.Values, t.States = piece.Time, piece.Values, piece.States
	return t, nil
}

func newReader(r io.Reader, o Options) (*reader, error) {
	if named, ok := r.(interface{ Name() string }); ok && o.Name == "" {
		o.Name = filepath.Base(named.Name())
	}
	o.Name = cmp.Or(o.Name, "trace")
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	f := &reader{records: newRecords(r, o.Name), options: o}
	f.time.zone, f.time.order = o.Zone, o.Dates
	return f, f.header()
}

// reader holds what has been read so far.
type reader struct {
	*records
	options   Options
	notes     notes
	signature string
	width     int // cells of a row
	trailing  bool
	time      timeColumn
	columns   []*column
	quotient  *quotient // the power that an energy counter implies, nil where it is not needed
}

// header reads the notes before the header and the header itself.
func (f *reader) header() error {
	if err := f.skipTo(f.options.HeaderLine); err != nil {
		return err
	}
	for {
		note, err := f.text()
		if err == io.EOF {
			return &Error{f.file, f.next, 1, "a header line, time [s] and the channels", "the end of the file"}
		}
		if err != nil {
			return err
		}
		if !note {
			break
		}
		if err := f.notes.add(f.records); err != nil {
			return err
		}
	}
	return f.heads()
}

// heads reads the header: its separator, its mapping, the time and the channels.
func (f *reader) heads() error {
	var list []Assignment
	var failed error
	isTime := func([]cell) bool {
		list = f.options.Map
		if list == nil && f.options.Recall != nil {
			list = f.options.Recall(f.records.signature())
		}
		heads, err := f.assign(list)
		if err != nil {
			failed = err
			return false
		}
		cell, _ := findTime(heads, f.quotedHead)
		return cell >= 0
	}
	if err := f.chooseSeparator(isTime); err != nil {
		return err
	}
	if failed = nil; !isTime(f.cells) {
		if failed != nil {
			return failed
		}
		return f.fail(0, "a column of time, time [s] for instance", "none in "+shown(f.raw))
	}
	heads, err := f.assign(list)
	if err != nil {
		return err
	}
	f.signature, f.width = f.records.signature(), len(f.cells)
	cell, date := findTime(heads, f.quotedHead)
	if err := f.time.head(heads[cell], f.quotedHead(cell), cell, date); err != nil {
		return err
	}
	return f.channels(heads)
}

// quotedHead says whether header cell i was quoted: then its outer spaces count.
func (f *reader) quotedHead(i int) bool { return f.cells[i].quoted }

func (f *reader) channels(heads []string) error {
	seen := map[string]int{}
	for i, c := range f.cells {
		mapped := heads[i] != string(c.text)
		switch {
		case i == f.time.cell || i == f.time.date || heads[i] == LeftOut && mapped:
			continue
		case heads[i] == "" && i == len(heads)-1 && i > 1:
			f.trailing = true // a separator after the last cell
			continue
		}
		h, err := parseHeading(heads[i], c.quoted)
		if err != nil {
			want := "a unit that is known, one of " + strings.Join(quantity.UnitNames(), " ")
			return f.fail(c.at, want, err.Error()+" of column "+shown([]byte(heads[i])))
		}
		if h.name == "" {
			return f.fail(c.at, "a channel's name and unit, package power [W] for instance", shown(c.text))
		}
		if first, ok := seen[h.name]; ok {
			return f.fail(c.at, "each channel's name once", fmt.Sprintf("%q in columns %d and %d", h.name, first+1, i+1))
		}
		seen[h.name] = i
		f.columns = append(f.columns, newColumn(h, i))
	}
	if len(f.columns) == 0 {
		return f.fail(len(f.raw), "a channel after the time", "the end of the line")
	}
	f.quotient = f.impliedPower()
	return nil
}

// rows reads up to most rows, 0 for all, and gives io.EOF at the end of the file.
func (f *reader) rows(most int) error {
	for n := 0; most == 0 || n < most; {
		note, err := f.read()
		if err == io.EOF {
			if f.time.n == 0 {
				return &Error{f.file, f.next, 1, "at least one row of values after the header", "the end of the file"}
			}
			return io.EOF
		}
		if err == nil && note {
			err = f.notes.add(f.records)
		} else if err == nil {
			err = f.row()
			n++
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (f *reader) row() error {
	if f.trailing && len(f.cells) == f.width-1 {
		f.cells = append(f.cells, cell{at: len(f.raw)})
	}
	if len(f.cells) != f.width {
		last := f.cells[min(f.width, len(f.cells)-1)]
		return f.fail(last.at, fmt.Sprintf("%d cells, as in the header", f.width), strconv.Itoa(len(f.cells)))
	}
	if last := f.cells[f.width-1]; f.trailing && len(last.text) > 0 {
		return f.fail(last.at, "nothing in the last column, whose header is empty", shown(last.text))
	}
	if err := f.time.add(f.records); err != nil {
		return err
	}
	for _, c := range f.columns {
		if err := c.add(f.records, f.cells[c.cell]); err != nil {
			return err
		}
	}
	return nil
}

// take gives the rows since the last call, as a trace without channels whose clock begins
// at the first row of all. What it holds is the caller's.
func (f *reader) take() *telemetry.Trace {
	t := &telemetry.Trace{Time: f.time.at}
	f.time.at = nil
	f.time.rebase(t.Time)
	for _, c := range f.columns {
		t.Values = append(t.Values, c.values)
		c.values = nil
	}
	if q := f.quotient; q != nil {
		values, states := q.column(t.Time, t.Values[q.from])
		t.Values = append(t.Values, values)
		t.States = make([][]telemetry.State, len(t.Values))
		t.States[len(t.Values)-1] = states
	}
	return t
}

// head is all that the file says beside its rows, once they are read.
func (f *reader) head() (*telemetry.Trace, error) {
	t := &telemetry.Trace{Start: f.time.start, Setup: f.notes.setup}
	if t.Start.IsZero() {
		t.Start = f.notes.start
	}
	for _, c := range f.columns {
		t.Channels = append(t.Channels, c.channel())
	}
	for i, m := range f.notes.marks {
		at, err := f.time.mark(m.at)
		if err != nil {
			return nil, &Error{f.file, m.line, m.col, "a mark's time in " + f.time.words(), strconv.Quote(m.at)}
		}
		t.Marks = append(t.Marks, telemetry.Mark{ID: int64(i + 1), At: at, Kind: m.kind, Text: m.text})
	}
	if err := f.takeScores(t); err != nil {
		return nil, err
	}
	f.explainBits(t)
	takeSimulated(t)
	means := make([]float64, len(f.columns))
	for i, c := range f.columns {
		means[i] = c.mean()
	}
	if err := assignRoles(t, means, f.notes.roles, f.options.Roles); err != nil {
		return nil, err
	}
	if f.quotient != nil {
		f.quotient.addChannel(t)
	}
	return t, nil
}

// explainBits attaches the meaning of reason masks that the notes give.
func (f *reader) explainBits(t *telemetry.Trace) {
	known := saysAccelerator(f.notes.setup)
	for i := range t.Channels {
		c := &t.Channels[i]
		if c.Quantity != quantity.Bits {
			continue
		}
		for _, b := range f.notes.bits {
			if b.channel == c.Name {
				c.Bits = append(c.Bits, b.ReasonBit)
			}
		}
		if c.Bits == nil && (known || strings.Contains(strings.ToLower(c.Name), acceleratorReasons)) {
			c.Bits = AcceleratorReasons()
		}
	}
}

// takeSimulated reads "simulated = yes" out of the setup.
func takeSimulated(t *telemetry.Trace) {
	for i, s := range t.Setup {
		if strings.EqualFold(s.Key, "simulated") && strings.HasPrefix(strings.ToLower(s.Value), "yes") {
			t.Simulated = true
			if s.Value == simulatedNote && s.Key == "simulated" {
				t.Setup = append(t.Setup[:i:i], t.Setup[i+1:]...)
			}
			break
		}
	}
	if len(t.Setup) == 0 {
		t.Setup = nil
	}
	for i := range t.Channels {
		t.Channels[i].Simulated = t.Simulated
	}
}

// skipTo leaves out the lines before the one where the header stands.
func (r *records) skipTo(line int) error {
	for r.next < line {
		r.raw, r.line = r.raw[:0], r.next
		if err := r.appendLine(); err != nil {
			if err == io.EOF {
				return &Error{r.file, r.next, 1, fmt.Sprintf("the header on line %d", line), "the end of the file"}
			}
			return err
		}
		if bytes.IndexByte(r.raw, 0) >= 0 {
			return r.check()
		}
	}
	return nil
}
