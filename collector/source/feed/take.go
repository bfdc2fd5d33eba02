package feed

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"

	"soakline/collector/telemetry"
)

// line takes one line that arrived now. The error is also kept in the list of refusals.
func (s *Source) line(text string) error {
	l, err := ParseLine(text)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.lines++
	switch {
	case err != nil:
	case l.Hello != nil:
		if s.hello.Interval != l.Hello.Interval {
			s.change() // the channels are renewed at another pace
		}
		s.hello = *l.Hello
		s.renumber()
	case l.Value != nil:
		err = s.take(l.Value, time.Now())
	}
	if err != nil {
		s.refuse(text, err)
	}
	return err
}

// take makes a reading of its channel of v.
func (s *Source) take(v *Value, now time.Time) error {
	c, err := s.channel(v)
	if err != nil {
		return err
	}
	newer, back := c.inOrder(v)
	if !newer {
		return nil
	}
	if back > 0 {
		s.mark(now, "says that its clock went back by %.0f s", back)
		s.renumber()
	}
	ours := now.Sub(s.base).Seconds()
	delay := 0.0
	if !math.IsNaN(v.Time) {
		delay = s.offset.add(v.Time, now, ours)
		if delay < -reorderSpan.Seconds() && c.readings > 0 {
			s.mark(now, "says that its clock went forward by %.0f s", -delay)
		}
		delay = math.Max(delay, 0)
		c.longest = math.Max(c.longest, delay)
	}
	if s.silent {
		s.silent = false
		s.mark(now, "is back")
	}
	s.arrived, s.trouble, c.last = now, "", now
	if c.readings == 0 {
		c.first = now
	}
	age := math.Min(v.Age+delay, 1e6)
	c.take(v, now.Add(-time.Duration(age*float64(time.Second))), ours-age)
	return nil
}

// channel finds the channel of a line, or makes it.
func (s *Source) channel(v *Value) (*channel, error) {
	if c := s.byName[v.Name]; c != nil {
		if c.symbol != v.Symbol && c.unit != v.Unit.Kind {
			return nil, fmt.Errorf("%s: it was in %s before, now in %s", v.Name, c.symbol, v.Symbol)
		}
		return c, nil
	}
	if len(s.channels) >= maxChannels {
		return nil, fmt.Errorf("%s: a feed has %d channels at most", v.Name, maxChannels)
	}
	c := &channel{symbol: v.Symbol, unit: v.Unit.Kind, value: math.NaN(), good: math.NaN(), at: math.NaN()}
	c.Channel = telemetry.Channel{Key: s.cfg.Name + "/" + v.Name, Name: v.Name, Quantity: v.quantity(), Source: s.cfg.Name, Device: s.device(v)}
	c.Role, c.Rank = s.role(v)
	s.channels, s.byName[v.Name] = append(s.channels, c), c
	if len(s.channels) == 1 {
		close(s.first)
	}
	s.change()
	return c, nil
}

func (s *Source) device(v *Value) string {
	for _, text := range []string{v.Device, s.hello.Source} {
		if text != "" {
			return text
		}
	}
	return s.way.title
}

// Ranks: a role that a line names beats every guess. A reference temperature that someone
// put there on purpose beats what the machine has; for everything else the machine's own
// sensors come first.
const (
	rankNamed   = 2000
	rankAmbient = 1000
	rankGuessed = -1000
)

func (s *Source) role(v *Value) (telemetry.Role, int) {
	if v.Role != telemetry.RoleNone {
		return v.Role, rankNamed
	}
	if s.cfg.Guess == nil || leaving(v.Name) {
		return telemetry.RoleNone, 0
	}
	role, rank := s.cfg.Guess(v.Name, v.quantity())
	if role == telemetry.RoleAmbient {
		return role, rankAmbient + rank
	}
	return role, rankGuessed + rank
}

// leaving is true for a name with the word out: what leaves is no reference.
func leaving(name string) bool {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) })
	return slices.Contains(words, "out")
}

// renumber forgets the sender's numbers and times: it began anew.
func (s *Source) renumber() {
	s.offset = offset{}
	for _, c := range s.channels {
		c.seqSeen, c.at = false, math.NaN()
	}
}

// restart forgets all that was measured.
func (s *Source) restart() {
	s.offset = offset{}
	for _, c := range s.channels {
		c.forget()
	}
}

// Refusal is a kind of line that was not taken.
type Refusal struct {
	Reason string
	Line   string // the last one, cut to 100 letters
	Count  uint64
}

// mostRefusals is how many kinds are told apart.
const mostRefusals = 10

func (s *Source) refuse(text string, err error) {
	line := []rune(strings.TrimSpace(text))
	text = string(line[:min(len(line), 100)])
	for i := range s.refusals {
		if r := &s.refusals[i]; r.Reason == err.Error() || i == mostRefusals-1 {
			r.Reason, r.Line = err.Error(), text
			r.Count++
			return
		}
	}
	s.refusals = append(s.refusals, Refusal{err.Error(), text, 1})
	s.change()
}

var errLong = errors.New("the line is longer than 1024 bytes")
