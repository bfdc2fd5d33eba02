package session

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"soakline/collector/telemetry"
)

// How long texts may be, in runes, and how many settings a setup may hold.
const (
	maxText     = 500
	maxKey      = 60
	maxSettings = 200
)

// Edit is the earlier text of a mark that was changed.
type Edit struct {
	ID   int64
	At   float64 // s, when it was changed
	Text string  // what stood there before
}

// Mark stores a mark and gives it back with its ID and its final time and text. A time
// that is negative, not a number or later than the newest row means now.
func (s *Session) Mark(m telemetry.Mark) telemetry.Mark {
	if now := s.ring.Now(); !(m.At >= 0 && m.At <= now) {
		m.At = now
	}
	if m.Kind == "" {
		m.Kind = telemetry.MarkUser
	}
	m.Text = Clean(m.Text, maxText)
	s.change(func() {
		s.nextMark++
		m.ID = s.nextMark
		s.marks = append(s.marks, m)
	})
	return m
}

// EditMark gives a mark another text; the earlier one stays in Edits.
func (s *Session) EditMark(id int64, text string) (err error) {
	s.change(func() {
		i := slices.IndexFunc(s.marks, func(m telemetry.Mark) bool { return m.ID == id })
		if i < 0 {
			err = fmt.Errorf("there is no mark %d in this session", id)
			return
		}
		s.edits = append(s.edits, Edit{id, s.ring.Now(), s.marks[i].Text})
		s.marks[i].Text = Clean(text, maxText)
	})
	return err
}

// Marks gives all marks in order of their IDs.
func (s *Session) Marks() []telemetry.Mark {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return slices.Clone(s.marks)
}

// Edits gives the earlier texts of changed marks, oldest first.
func (s *Session) Edits() []Edit {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return slices.Clone(s.edits)
}

// Setup gives the conditions in the order in which their keys came.
func (s *Session) Setup() []telemetry.Setting {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return slices.Clone(s.setup)
}

// SetSetting sets one condition; an empty value takes the key out. It refuses an empty
// key and more than 200 keys.
func (s *Session) SetSetting(key, value string) error {
	key, value = Clean(key, maxKey), Clean(value, maxText)
	if key == "" {
		return errors.New("a setting needs a key, such as cooler or paste")
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	i := slices.IndexFunc(s.setup, func(kv telemetry.Setting) bool { return kv.Key == key })
	switch {
	case i < 0 && value == "" || i >= 0 && s.setup[i].Value == value:
		return nil
	case i < 0 && len(s.setup) >= maxSettings:
		return fmt.Errorf("a setup holds %d settings at most", maxSettings)
	case i < 0:
		s.setup = append(s.setup, telemetry.Setting{Key: key, Value: value})
	case value == "":
		s.setup = slices.Delete(s.setup, i, i+1)
	default:
		s.setup[i].Value = value
	}
	s.changes.Add(1)
	s.wake()
	return nil
}

// Clean makes text from outside storable: valid UTF-8, one line, no control or format
// characters, no blanks around it, at most limit runes.
func Clean(text string, limit int) string {
	text = strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\r' || r == '\t' || r == '\u2028' || r == '\u2029':
			return ' '
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r):
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, "\uFFFD"))
	text = strings.TrimSpace(text)
	n := 0
	for i := range text {
		if n == limit {
			return strings.TrimSpace(text[:i])
		}
		n++
	}
	return text
}

// nan is "no value"; as the time of a mark it asks for now.
var nan = math.NaN()
