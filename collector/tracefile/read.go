package tracefile

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Options say how to read a trace.
type Options struct {
	// Name is the file's name in messages; empty is the reader's own name, else "trace".
	Name string
	// Roles overrides the meaning of channels: role to channel name.
	Roles map[telemetry.Role]string
}

// Read reads a trace file as it streams in; memory holds the columns alone. Errors are
// *Error where the file is to blame, an error of telemetry.Resolve where an override is.
func Read(r io.Reader, o Options) (*telemetry.Trace, error) {
	if named, ok := r.(interface{ Name() string }); ok && o.Name == "" {
		o.Name = filepath.Base(named.Name())
	}
	if o.Name == "" {
		o.Name = "trace"
	}
	f := &reader{records: newRecords(r, o.Name)}
	if err := f.header(); err != nil {
		return nil, err
	}
	if err := f.rows(); err != nil {
		return nil, err
	}
	t, err := f.trace()
	if err != nil {
		return nil, err
	}
	return t, assignRoles(t, f.notes.roles, o.Roles)
}

// reader holds what has been read so far.
type reader struct {
	*records
	notes   notes
	time    timeColumn
	columns []*column
}

// header reads the notes before the header and the header itself.
func (f *reader) header() error {
	for {
		note, err := f.read()
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
	if len(f.cells) == 1 && strings.ContainsAny(string(f.raw), ";\t") {
		return f.fail(0, "cells separated by commas", "a header separated by semicolons or tabs: "+shown(f.raw))
	}
	if err := f.time.head(f.records, f.cells[0]); err != nil {
		return err
	}
	if len(f.cells) == 1 {
		return f.fail(len(f.raw), "a channel after the time", "the end of the line")
	}
	return f.channels()
}

func (f *reader) channels() error {
	seen := map[string]int{}
	for i, c := range f.cells[1:] {
		h, err := parseHeading(string(c.text), c.quoted)
		if err != nil {
			want := "a unit that is known, one of " + strings.Join(quantity.UnitNames(), " ")
			return f.fail(c.at, want, err.Error()+" of column "+shown(c.text))
		}
		if h.name == "" {
			return f.fail(c.at, "a channel's name and unit, package power [W] for instance", shown(c.text))
		}
		if first, ok := seen[h.name]; ok {
			return f.fail(c.at, "each channel's name once", fmt.Sprintf("%q in columns %d and %d", h.name, first+2, i+2))
		}
		seen[h.name] = i
		f.columns = append(f.columns, newColumn(h))
	}
	return nil
}

func (f *reader) rows() error {
	for {
		note, err := f.read()
		if err == io.EOF {
			break
		}
		if err == nil && note {
			err = f.notes.add(f.records)
		} else if err == nil {
			err = f.row()
		}
		if err != nil {
			return err
		}
	}
	if len(f.time.at) == 0 {
		return &Error{f.file, f.next, 1, "at least one row of values after the header", "the end of the file"}
	}
	return nil
}

func (f *reader) row() error {
	if want := len(f.columns) + 1; len(f.cells) != want {
		last := f.cells[min(want, len(f.cells)-1)]
		return f.fail(last.at, fmt.Sprintf("%d cells, as in the header", want), strconv.Itoa(len(f.cells)))
	}
	if err := f.time.add(f.records, f.cells[0]); err != nil {
		return err
	}
	for i, c := range f.columns {
		if err := c.add(f.records, f.cells[i+1]); err != nil {
			return err
		}
	}
	return nil
}

// trace turns what was read into a Trace, its clock beginning at the first sample.
func (f *reader) trace() (*telemetry.Trace, error) {
	t := &telemetry.Trace{Time: f.time.at, Start: f.time.start, Setup: f.notes.setup}
	if t.Start.IsZero() {
		t.Start = f.notes.start
	}
	for _, c := range f.columns {
		t.Channels = append(t.Channels, c.channel())
		t.Values = append(t.Values, c.values)
	}
	for i, m := range f.notes.marks {
		at, err := f.time.mark(m.at)
		if err != nil {
			return nil, &Error{f.file, m.line, m.col, "a mark's time in " + f.time.words(), strconv.Quote(m.at)}
		}
		t.Marks = append(t.Marks, telemetry.Mark{ID: int64(i + 1), At: at, Kind: m.kind, Text: m.text})
	}
	f.time.rebase(t.Time)
	f.explainBits(t)
	takeSimulated(t)
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

// timeColumn is the first column: seconds, or RFC 3339 from the first row on.
type timeColumn struct {
	scale float64 // seconds a unit
	at    []float64
	start time.Time // of an RFC 3339 column
	first float64   // the first row's time on the file's own clock
	clock bool      // RFC 3339
}

func (c *timeColumn) words() string {
	if c.clock {
		return "RFC 3339"
	}
	return "seconds"
}

func (c *timeColumn) head(r *records, head cell) error {
	h, err := parseHeading(string(head.text), head.quoted)
	if err != nil || !strings.EqualFold(h.name, "time") || h.stated && h.unit.Kind != quantity.Duration {
		return r.fail(head.at, "the time as first column, time [s]", shown(head.text))
	}
	c.scale = h.unit.Scale()
	return nil
}

func (c *timeColumn) add(r *records, at cell) error {
	if len(c.at) == 0 {
		if start, err := time.Parse(time.RFC3339Nano, string(at.text)); err == nil {
			c.start, c.clock = start, true
		}
	}
	s, err := c.seconds(string(at.text))
	if err != nil {
		return r.fail(at.at, "a time in "+c.words(), shown(at.text))
	}
	if len(c.at) == 0 {
		c.first = s
	} else if last := c.at[len(c.at)-1]; s < last {
		return r.fail(at.at, fmt.Sprintf("a time not before the %s s of the row above", short(last)), short(s)+" s: time runs backwards")
	}
	c.at = append(c.at, s)
	return nil
}

// seconds reads a time on the file's own clock.
func (c *timeColumn) seconds(text string) (float64, error) {
	if c.clock {
		t, err := time.Parse(time.RFC3339Nano, text)
		return t.Sub(c.start).Seconds(), err
	}
	v, err := parseNumber([]byte(text))
	return v * c.scale, err
}

func (c *timeColumn) mark(text string) (float64, error) {
	if c.clock {
		if v, err := parseNumber([]byte(text)); err == nil {
			return v, nil // seconds from the first sample
		}
		return c.seconds(text)
	}
	v, err := parseNumber([]byte(text))
	return since(v, c.first), err // marks are in seconds whatever the column's unit
}

// rebase lets the trace begin at 0.
func (c *timeColumn) rebase(at []float64) {
	for i := range at {
		at[i] = since(at[i], c.first)
	}
}

// since is a - b without the dust that a decimal difference leaves: to the nanosecond.
func since(a, b float64) float64 {
	if b == 0 {
		return a
	}
	return math.Round((a-b)*1e9) / 1e9
}

func short(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
