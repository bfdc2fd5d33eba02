package feed

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// part is a word of a line: "coolant in", 24.31, or device="pump unit".
type part struct {
	key    string // before the =, "" where there is none
	text   string
	quoted bool
}

// split cuts a line, blanks around it removed, into its words. It has at least one.
func split(line string) (parts []part, err error) {
	if !utf8.ValidString(line) {
		return nil, errors.New("the line is not UTF-8")
	}
	if i := strings.IndexFunc(line, func(r rune) bool { return r != '\t' && unicode.IsControl(r) }); i >= 0 {
		return nil, fmt.Errorf("control character at byte %d", i+1)
	}
	for rest := line; rest != ""; rest = strings.TrimLeft(rest, " \t") {
		var p part
		if p, rest, err = word(rest); err != nil {
			return nil, err
		}
		parts = append(parts, p)
	}
	return parts, nil
}

// word takes the first word off.
func word(s string) (p part, rest string, err error) {
	if s[0] != '"' {
		end := strings.IndexAny(s, " \t\"=")
		if end < 0 {
			return part{text: s}, "", nil
		}
		switch s[end] {
		case '"':
			return p, "", fmt.Errorf("a quotation mark inside %q: put the whole name in quotes", s[:end+1])
		case '=':
			if p.key, s = s[:end], s[end+1:]; p.key == "" {
				return p, "", errors.New("a field without a key before its =")
			}
		default:
			return part{text: s[:end]}, s[end:], nil
		}
		if s == "" || s[0] != '"' {
			if end = strings.IndexAny(s, " \t"); end < 0 {
				end = len(s)
			}
			p.text = s[:end]
			if strings.Contains(p.text, `"`) {
				return p, "", fmt.Errorf("a quotation mark inside the value of %s", p.key)
			}
			return p, s[end:], nil
		}
	}
	p.quoted = true
	if p.text, rest, err = quotation(s); err == nil && rest != "" && rest[0] != ' ' && rest[0] != '\t' {
		err = fmt.Errorf("no blank after the quotation %q", p.text)
	}
	return p, rest, err
}

// quotation reads text in double quotes.
func quotation(s string) (text, rest string, err error) {
	var b strings.Builder
	for i := 1; i < len(s); i++ {
		switch {
		case s[i] == '"':
			return b.String(), s[i+1:], nil
		case s[i] == '\\' && i+1 < len(s) && (s[i+1] == '"' || s[i+1] == '\\'):
			i++
		case s[i] == '\\':
			return "", "", errors.New(`a \ in quotes stands before " or \ only`)
		}
		b.WriteByte(s[i])
	}
	return "", "", errors.New("a quotation mark is not closed")
}

// checkSum takes a sum=HH at the end off, and refuses the line where it does not fit.
func checkSum(line string) (string, error) {
	i := strings.LastIndexAny(line, " \t")
	if i < 0 || !strings.HasPrefix(line[i+1:], "sum=") {
		return line, nil
	}
	said, err := strconv.ParseUint(line[i+5:], 16, 8)
	if err != nil {
		return line, fmt.Errorf("sum=%q: expected two hexadecimal digits", line[i+5:])
	}
	var sum byte
	for _, c := range []byte(line[:i]) {
		sum ^= c
	}
	if byte(said) != sum {
		return line, fmt.Errorf("the checksum says %02x, the bytes make %02x: the line was damaged on its way", said, sum)
	}
	return strings.TrimRight(line[:i], " \t"), nil
}
