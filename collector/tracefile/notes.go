package tracefile

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"soakline/collector/telemetry"
)

// simulatedNote is what Write states of a simulated trace that does not say so itself.
const simulatedNote = "yes, computed, nothing in this file was measured"

// mark is a mark as noted: its time is on the file's own clock.
type mark struct {
	at   string
	line int // where it stands, for messages
	col  int
	kind telemetry.MarkKind
	text string
}

// bit is one explained bit of a channel's reason mask.
type bit struct {
	channel string
	telemetry.ReasonBit
}

// notes are the # lines of a file.
type notes struct {
	setup []telemetry.Setting
	marks []mark
	start time.Time
	roles []telemetry.Setting // role = channel name
	bits  []bit

	scores []score
}

// add reads one note. Notes that mean nothing are comments.
func (n *notes) add(r *records) error {
	line := string(r.raw)
	word, rest, found := strings.Cut(strings.TrimSpace(line[1:]), ":")
	if !found {
		return nil
	}
	at := len(line) - len(strings.TrimLeft(line[strings.IndexByte(line, ':')+1:], " \t"))
	rest = strings.TrimSpace(rest)
	switch word {
	case "setup", "role", "bit", "score":
		key, value, ok := cutSetting(rest)
		if !ok {
			return r.fail(at, "key = value", shown([]byte(rest)))
		}
		return n.addPair(r, at, word, key, value)
	case "mark":
		return n.addMark(r, at, rest)
	case "start":
		t, err := time.Parse(time.RFC3339Nano, rest)
		if err != nil {
			return r.fail(at, "a time in RFC 3339, 2026-03-01T20:15:00Z for instance", shown([]byte(rest)))
		}
		n.start = t
	}
	return nil
}

func (n *notes) addPair(r *records, at int, word, key, value string) error {
	switch word {
	case "score":
		return n.addScore(r, at, key, value)
	case "setup":
		n.setup = append(n.setup, telemetry.Setting{Key: key, Value: value})
	case "role":
		n.roles = append(n.roles, telemetry.Setting{Key: key, Value: value})
	case "bit":
		parts := strings.SplitN(value, " ", 3)
		mask, err := strconv.ParseUint(parts[0], 0, 64)
		if err != nil || len(parts) < 3 {
			return r.fail(at, "a bit as: channel = 0x4 power-long name", shown([]byte(value)))
		}
		b := telemetry.ReasonBit{Mask: mask, Name: parts[2], Limiter: parts[1]}
		if b.Limiter == "-" {
			b.Limiter = ""
		}
		n.bits = append(n.bits, bit{key, b})
	}
	return nil
}

func (n *notes) addMark(r *records, at int, rest string) error {
	time, text, _ := strings.Cut(rest, " ")
	if time == "" {
		return r.fail(at, "a mark as: 62.5 text", `""`)
	}
	m := mark{at: time, kind: telemetry.MarkUser, text: strings.TrimSpace(text)}
	where := r.fail(at, "", "")
	m.line, m.col = where.Line, where.Column
	for _, kind := range []telemetry.MarkKind{telemetry.MarkMachine, telemetry.MarkCommand} {
		if after, ok := strings.CutPrefix(m.text, "("+string(kind)+")"); ok {
			m.kind, m.text = kind, strings.TrimSpace(after)
		}
	}
	m.text = unquote(m.text)
	n.marks = append(n.marks, m)
	return nil
}

// cutSetting splits `key = value`; either may be a quoted Go string.
func cutSetting(s string) (key, value string, ok bool) {
	if quoted, err := strconv.QuotedPrefix(s); err == nil {
		after := strings.TrimSpace(s[len(quoted):])
		if value, ok = strings.CutPrefix(after, "="); ok {
			return unquote(quoted), unquote(strings.TrimSpace(value)), true
		}
	}
	key, value, ok = strings.Cut(s, "=")
	key = strings.TrimSpace(key)
	return key, unquote(strings.TrimSpace(value)), ok && key != ""
}

func unquote(s string) string {
	if len(s) >= 2 && s[0] == '"' && s[len(s)-1] == '"' {
		if u, err := strconv.Unquote(s); err == nil {
			return u
		}
	}
	return s
}

// noteText writes a text so that reading gives it back: as it is, or quoted where it
// holds what a note cannot.
func noteText(s string, avoid string) (string, error) {
	if !utf8.ValidString(s) {
		return "", fmt.Errorf("text %q is not UTF-8", s)
	}
	odd := strings.ContainsFunc(s, func(r rune) bool { return unicode.IsControl(r) || r == '\u2028' || r == '\u2029' })
	if odd || s != strings.TrimSpace(s) || strings.HasPrefix(s, `"`) || avoid != "" && strings.ContainsAny(s, avoid) {
		return strconv.Quote(s), nil
	}
	return s, nil
}
