package tracefile

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Write writes a trace so that Read gives it back: values to the shortest decimal that
// keeps them, gaps as empty cells. What the file cannot say is left out: reasons of
// gaps, keys, devices and refresh times. A value that is exactly a float32 is written
// with float32's digits, so that 0.1 measured in float32 reads 0.1 and not
// 0.10000000149011612. Channels of one name are told apart by device, then by number.
func Write(w io.Writer, t *telemetry.Trace) error {
	if len(t.Time) == 0 {
		return fmt.Errorf("write trace: it holds no samples")
	}
	out := &writer{Writer: bufio.NewWriterSize(w, 1<<16), t: t, names: uniqueNames(t.Channels)}
	for _, step := range []func() error{out.notes, out.marks, out.scores, out.header, out.rows} {
		if err := step(); err != nil {
			return fmt.Errorf("write trace: %w", err)
		}
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("write trace: %w", err)
	}
	return nil
}

type writer struct {
	*bufio.Writer
	t     *telemetry.Trace
	names []string
	buf   []byte
}

// note writes "# word: key = value".
func (w *writer) note(word, key, value string) error {
	k, err := noteText(key, "=")
	if err != nil {
		return fmt.Errorf("%s: %w", word, err)
	}
	v, err := noteText(value, "")
	if err != nil {
		return fmt.Errorf("%s %s: %w", word, k, err)
	}
	if k == "" {
		k = `""`
	}
	_, err = fmt.Fprintf(w, "# %s: %s = %s\n", word, k, v)
	return err
}

func (w *writer) notes() error {
	if !w.t.Start.IsZero() {
		fmt.Fprintf(w, "# start: %s\n", w.t.Start.Format(time.RFC3339Nano))
	}
	said := false
	for _, s := range w.t.Setup {
		said = said || strings.EqualFold(s.Key, "simulated") && strings.HasPrefix(strings.ToLower(s.Value), "yes")
		if err := w.note("setup", s.Key, s.Value); err != nil {
			return err
		}
	}
	if w.t.Simulated && !said {
		if err := w.note("setup", "simulated", simulatedNote); err != nil {
			return err
		}
	}
	if err := w.roles(); err != nil {
		return err
	}
	return w.bits()
}

// roles notes every role that reading the file would not give by itself. A role that is
// taken from one channel may fall to another, so that it looks again after each round.
func (w *writer) roles() error {
	plain := &telemetry.Trace{Time: w.t.Time, Values: w.t.Values}
	for i, c := range w.t.Channels {
		plain.Channels = append(plain.Channels, telemetry.Channel{Key: w.names[i], Name: w.names[i], Quantity: c.Quantity})
	}
	guessRoles(plain, means(w.t))
	noted := map[int]bool{}
	for before := -1; before != len(noted); {
		before = len(noted)
		read, err := telemetry.Resolve(plain.Channels, nil)
		if err != nil {
			return err
		}
		for i, c := range w.t.Channels {
			if c.Role != read[i].Role && !noted[i] {
				noted[i] = true
				noteRole(&plain.Channels[i], roleWord(c.Role))
			}
		}
	}
	for i, c := range w.t.Channels {
		if noted[i] {
			if err := w.note("role", string(roleWord(c.Role)), w.names[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

// means are those of each channel's values.
func means(t *telemetry.Trace) []float64 {
	list := make([]float64, len(t.Values))
	for i, values := range t.Values {
		list[i] = meanOf(values)
	}
	return list
}

// roleWord is a role as a note writes it.
func roleWord(r telemetry.Role) telemetry.Role {
	if r == telemetry.RoleNone {
		return "none"
	}
	return r
}

func (w *writer) bits() error {
	for i, c := range w.t.Channels {
		if c.Quantity != quantity.Bits {
			continue
		}
		for _, b := range c.Bits {
			limiter := b.Limiter
			if limiter == "" {
				limiter = "-"
			}
			if err := w.note("bit", w.names[i], fmt.Sprintf("%#x %s %s", b.Mask, limiter, b.Name)); err != nil {
				return err
			}
		}
	}
	return nil
}

func (w *writer) marks() error {
	for _, m := range w.t.Marks {
		if math.IsNaN(m.At) || math.IsInf(m.At, 0) {
			return fmt.Errorf("mark %q has no time", m.Text)
		}
		text, err := noteText(m.Text, "")
		if err != nil {
			return fmt.Errorf("mark at %s s: %w", short(m.At), err)
		}
		if strings.HasPrefix(text, "(") {
			text = strconv.Quote(text)
		}
		if m.Kind == telemetry.MarkMachine || m.Kind == telemetry.MarkCommand {
			text = "(" + string(m.Kind) + ") " + text
		}
		if _, err := fmt.Fprintf(w, "# mark: %s %s\n", short(m.At), text); err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) header() error {
	w.WriteString("time [s]")
	for i, c := range w.t.Channels {
		if strings.TrimSpace(w.names[i]) == "" {
			return fmt.Errorf("channel %d has no name", i+1)
		}
		cell, err := quoteCell(formatHeading(w.names[i], c.Quantity), w.names[i])
		if err != nil {
			return fmt.Errorf("channel %q: %w", w.names[i], err)
		}
		w.WriteByte(',')
		w.WriteString(cell)
	}
	return w.WriteByte('\n')
}

func (w *writer) rows() error {
	labels := make([][]string, len(w.t.Channels))
	for i, c := range w.t.Channels {
		for _, l := range c.Labels {
			cell, err := quoteCell(l, l)
			if err != nil {
				return fmt.Errorf("channel %q: label %q: %w", c.Name, l, err)
			}
			labels[i] = append(labels[i], cell)
		}
	}
	for i, at := range w.t.Time {
		if math.IsNaN(at) || math.IsInf(at, 0) {
			return fmt.Errorf("sample %d has no time", i)
		}
		w.buf = strconv.AppendFloat(w.buf[:0], at, 'f', -1, 64)
		for c, ch := range w.t.Channels {
			w.buf = append(w.buf, ',')
			v := w.t.Values[c][i]
			if math.IsNaN(v) || math.IsInf(v, 0) || !w.t.StateAt(c, i).Usable() {
				continue
			}
			if ch.Quantity == quantity.Label {
				if l := int(v); v >= 0 && l < len(labels[c]) {
					w.buf = append(w.buf, labels[c][l]...)
				}
				continue
			}
			w.buf = appendValue(w.buf, v, ch.Quantity)
		}
		w.buf = append(w.buf, '\n')
		if _, err := w.Write(w.buf); err != nil {
			return err
		}
	}
	return nil
}

// appendValue writes the shortest decimal. Whole numbers and counters keep every digit.
func appendValue(b []byte, v float64, kind quantity.Kind) []byte {
	if kind == quantity.Bits && v >= 0 {
		return strconv.AppendUint(b, uint64(v), 10)
	}
	size := 64
	if kind != quantity.Energy && kind != quantity.Count && v != math.Trunc(v) && float64(float32(v)) == v {
		size = 32
	}
	format := byte('f')
	if a := math.Abs(v); a != 0 && (a < 1e-6 || a >= 1e21) {
		format = 'e'
	}
	return strconv.AppendFloat(b, v, format, -1, size)
}

// quoteCell writes a cell so that the reader gives it back to the letter. text is the
// part whose outer spaces count.
func quoteCell(cell, text string) (string, error) {
	if strings.ContainsRune(cell, 0) {
		return "", fmt.Errorf("a NUL byte cannot stand in a text file")
	}
	if strings.ToValidUTF8(cell, "") != cell {
		return "", fmt.Errorf("not UTF-8")
	}
	if len(cell) > maxCell {
		return "", fmt.Errorf("longer than %d bytes", maxCell)
	}
	if strings.ContainsAny(cell, ",\"\r\n") || strings.TrimSpace(text) != text {
		return `"` + strings.ReplaceAll(cell, `"`, `""`) + `"`, nil
	}
	return cell, nil
}

// uniqueNames gives every channel a name of its own.
func uniqueNames(chs []telemetry.Channel) []string {
	count := map[string]int{}
	for _, c := range chs {
		count[c.Name]++
	}
	names := make([]string, 0, len(chs))
	for _, c := range chs {
		name := c.Name
		if count[name] > 1 && c.Device != "" {
			name += " (" + c.Device + ")"
		}
		base := name
		for n := 2; slices.Contains(names, name); n++ {
			name = fmt.Sprintf("%s (%d)", base, n)
		}
		names = append(names, name)
	}
	return names
}
