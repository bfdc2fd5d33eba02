package rawfs

import (
	"math"
	"strings"

	"soakline/collector/telemetry"
)

// ParseInt reads one decimal integer with an optional sign; white space and NUL bytes
// at the end are ignored. The state is Fresh, GapEmpty for a file without text, or
// GapUnreadable for anything else: text such as "<unsupported>", a fraction, a second
// number, a value beyond 64 bits.
func ParseInt(b []byte) (int64, telemetry.State) {
	i, v := 0, int64(0)
	for i < len(b) && i < 18 && b[i]-'0' <= 9 {
		v = v*10 + int64(b[i]-'0')
		i++
	}
	if i > 0 && (i == len(b) || i == len(b)-1 && b[i] == '\n') {
		return v, telemetry.Fresh // what nearly every sensor file holds
	}
	return parseOther(b)
}

// parseOther reads what is not 1 to 18 digits and a line feed.
func parseOther(b []byte) (int64, telemetry.State) {
	b = trim(b)
	if len(b) == 0 {
		return 0, telemetry.GapEmpty
	}
	negative := b[0] == '-'
	if negative || b[0] == '+' {
		b = b[1:]
	}
	if len(b) == 0 {
		return 0, telemetry.GapUnreadable
	}
	for len(b) > 1 && b[0] == '0' {
		b = b[1:]
	}
	if len(b) > 19 {
		return 0, telemetry.GapUnreadable
	}
	var v uint64 // 19 digits fit
	for _, c := range b {
		d := uint64(c - '0')
		if d > 9 {
			return 0, telemetry.GapUnreadable
		}
		v = v*10 + d
	}
	switch {
	case negative && v <= 1<<63:
		return -int64(v), telemetry.Fresh
	case !negative && v <= math.MaxInt64:
		return int64(v), telemetry.Fresh
	}
	return 0, telemetry.GapUnreadable
}

// trim cuts white space and NUL bytes from the end and white space from the start.
func trim(b []byte) []byte {
	for len(b) > 0 && (b[len(b)-1] <= ' ') {
		b = b[:len(b)-1]
	}
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') {
		b = b[1:]
	}
	return b
}

// Natural orders names as people number them: digits by their value, the rest by bytes.
func Natural(a, b string) int {
	i, j := 0, 0
	for i < len(a) && j < len(b) {
		if !digit(a[i]) || !digit(b[j]) {
			if a[i] != b[j] {
				return int(a[i]) - int(b[j])
			}
			i, j = i+1, j+1
			continue
		}
		m, n := number(a, i), number(b, j)
		x, y := significant(a[i:m]), significant(b[j:n])
		if len(x) != len(y) {
			return len(x) - len(y)
		}
		if x != y {
			if x < y {
				return -1
			}
			return 1
		}
		i, j = m, n
	}
	if d := (len(a) - i) - (len(b) - j); d != 0 {
		return d
	}
	return strings.Compare(a, b) // "a01" and "a1"
}

func digit(c byte) bool { return '0' <= c && c <= '9' }

func number(s string, i int) int {
	for i < len(s) && digit(s[i]) {
		i++
	}
	return i
}

func significant(s string) string {
	for len(s) > 1 && s[0] == '0' {
		s = s[1:]
	}
	return s
}
