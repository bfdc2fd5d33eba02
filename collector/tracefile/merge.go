package tracefile

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"soakline/collector/telemetry"
)

// Part is one of several files that are merged.
type Part struct {
	Rows *Rows
	Name string // tells channels of one name apart
	// Offset is added to the part's times, s.
	Offset float64
}

// holdSteps is how many of its own steps a part's last values stand in rows of the others;
// beyond, they are stale.
const holdSteps = 2.5

// Merged is several files on one clock. Where all state when they began, their starts are
// kept apart as they were; else all begin together. Offsets come on top. A row stands at
// the time of every row of every part; what another part measured last is held in it.
type Merged struct {
	parts    []*part
	override map[telemetry.Role]string
	zero     float64 // of the merged clock on that of the parts
	start    time.Time
}

type part struct {
	Part
	shift float64 // onto the common clock
	piece *telemetry.Trace
	i     int     // the next row of piece
	at    float64 // the last row's time on the common clock, NaN before the first
	step  float64 // between its last two rows
	last  []float64
	state []telemetry.State
	ended bool
}

// Merge puts parts on one clock. roles overrides the meaning of channels of the whole: of
// two parts that hold a role it is the first that keeps it.
func Merge(parts []Part, roles map[telemetry.Role]string) (*Merged, error) {
	m := &Merged{override: roles, zero: math.Inf(1)}
	started := true
	for _, p := range parts {
		q := &part{Part: p, at: math.NaN(), step: math.Inf(1)}
		if err := q.fill(); err != nil {
			return nil, err
		}
		if q.ended {
			return nil, fmt.Errorf("%s holds no rows", p.Name)
		}
		m.parts = append(m.parts, q)
		started = started && !p.Rows.start().IsZero()
	}
	for _, q := range m.parts {
		q.shift = q.Offset
		if started {
			q.shift += q.Rows.start().Sub(m.parts[0].Rows.start()).Seconds()
		}
		m.zero = min(m.zero, q.shift)
	}
	if started {
		m.start = m.parts[0].Rows.start().Add(time.Duration(m.zero * float64(time.Second)))
	}
	return m, nil
}

// start is when the first row was taken, as far as the file has said it by now.
func (r *Rows) start() time.Time {
	if s := r.reader.time.start; !s.IsZero() {
		return s
	}
	return r.reader.notes.start
}

// fill reads the part's next piece where the last one is used up.
func (p *part) fill() error {
	for p.piece == nil || p.i >= len(p.piece.Time) {
		piece, err := p.Rows.Next(2400)
		if errors.Is(err, io.EOF) {
			p.ended = true
			return nil
		}
		if err != nil {
			return err
		}
		p.piece, p.i = piece, 0
		if p.last == nil {
			p.last, p.state = make([]float64, len(piece.Values)), make([]telemetry.State, len(piece.Values))
			for c := range p.last {
				p.last[c] = math.NaN()
			}
		}
	}
	return nil
}

// next is the time of the part's next row on the common clock.
func (p *part) next() float64 {
	if p.ended {
		return math.Inf(1)
	}
	return p.piece.Time[p.i] + p.shift
}

// take moves on by one row.
func (p *part) take() error {
	at := p.next()
	if d := at - p.at; d > 0 {
		p.step = d
	}
	p.at = at
	for c := range p.last {
		p.last[c], p.state[c] = p.piece.Values[c][p.i], p.piece.StateAt(c, p.i)
	}
	p.i++
	return p.fill()
}

// Next gives up to most rows, as Rows.Next does.
func (m *Merged) Next(most int) (*telemetry.Trace, error) {
	out := &telemetry.Trace{}
	for len(out.Time) < max(1, most) {
		now := math.Inf(1)
		for _, p := range m.parts {
			now = min(now, p.next())
		}
		if math.IsInf(now, 1) {
			break
		}
		if err := m.row(out, now); err != nil {
			return nil, err
		}
	}
	if len(out.Time) == 0 {
		return nil, io.EOF
	}
	return out, nil
}

// row adds the row at one time of the common clock. Times within a nanosecond are one.
func (m *Merged) row(out *telemetry.Trace, now float64) error {
	out.Time = append(out.Time, since(now, m.zero))
	column := 0
	for _, p := range m.parts {
		fresh := false
		if p.next() <= now+1e-9 {
			fresh = true
			if err := p.take(); err != nil {
				return err
			}
		}
		for c := range p.last {
			if column == len(out.Values) {
				out.Values, out.States = append(out.Values, nil), append(out.States, nil)
			}
			v, state := p.held(c, now, fresh)
			out.Values[column], out.States[column] = append(out.Values[column], v), append(out.States[column], state)
			column++
		}
	}
	return nil
}

// held is what a part's channel is worth at a time.
func (p *part) held(c int, now float64, fresh bool) (float64, telemetry.State) {
	v, state := p.last[c], p.state[c]
	switch {
	case math.IsNaN(p.at):
		return math.NaN(), telemetry.NoData
	case fresh || !state.Usable():
		return v, state
	case now-p.at > holdSteps*p.step:
		return math.NaN(), telemetry.GapStale
	}
	return v, telemetry.Held
}

// Head gives all that the files say beside their rows, once they are read to the end.
func (m *Merged) Head() (*telemetry.Trace, error) {
	out := &telemetry.Trace{Start: m.start}
	taken := map[string]bool{}
	for _, p := range m.parts {
		h, err := p.Rows.Head()
		if err != nil {
			return nil, err
		}
		m.add(out, h, p, taken)
	}
	chs, err := telemetry.Resolve(out.Channels, m.override)
	if err != nil {
		return nil, fmt.Errorf("roles: %w", err)
	}
	out.Channels = chs
	slices.SortStableFunc(out.Marks, func(a, b telemetry.Mark) int { return cmp.Compare(a.At, b.At) })
	for i := range out.Marks {
		out.Marks[i].ID = int64(i + 1)
	}
	return out, nil
}

// add takes over what one part says. A channel's name that an earlier part has is told
// apart by the part's name; so is a setting of another value.
func (m *Merged) add(out, h *telemetry.Trace, p *part, taken map[string]bool) {
	for _, c := range h.Channels {
		for base, n := c.Name, 1; taken[c.Name]; n++ {
			if c.Name = p.Name + ": " + base; n > 1 {
				c.Name = fmt.Sprintf("%s (%d)", c.Name, n)
			}
		}
		taken[c.Name] = true
		c.Key, c.Device = c.Name, p.Name
		out.Channels = append(out.Channels, c)
	}
	for _, s := range h.Setup {
		i := slices.IndexFunc(out.Setup, func(o telemetry.Setting) bool { return o.Key == s.Key })
		if i >= 0 && out.Setup[i].Value == s.Value {
			continue
		}
		if i >= 0 {
			s.Key = p.Name + ": " + s.Key
		}
		out.Setup = append(out.Setup, s)
	}
	shift := func(at float64) float64 { return since(at+p.shift, m.zero) }
	for _, k := range h.Marks {
		k.At = shift(k.At)
		out.Marks = append(out.Marks, k)
	}
	for _, s := range h.Scores {
		s.At = shift(s.At)
		out.Scores = append(out.Scores, s)
	}
	out.Simulated = out.Simulated || h.Simulated
}
