package tracefile

import (
	"bytes"
	"strings"
)

// separators are what may stand between cells, the one of RFC 4180 first.
const separators = ",;\t"

// chooseSeparator finds what separates the cells of the header that was just read: that
// with which it holds a column of time, and of several the one that gives the most cells.
// isTime says whether cells hold one. Without any the comma stands.
func (r *records) chooseSeparator(isTime func([]cell) bool) error {
	best, most := byte(','), 0
	for _, sep := range []byte(separators) {
		r.sep = sep
		if r.split() == nil && isTime(r.cells) && len(r.cells) > most {
			best, most = sep, len(r.cells)
		}
	}
	if most == 1 { // a time and nothing else: whatever separates, there is nothing to separate
		best = ','
	}
	r.sep = best
	return r.split()
}

// number reads a number in the file's own form. Where cells are not separated by commas, a
// comma may be the decimal sign; one file has one sign.
func (r *records) number(b []byte) (float64, error) {
	if r.sep == ',' {
		return parseNumber(b)
	}
	comma, point := bytes.IndexByte(b, ','), bytes.IndexByte(b, '.')
	switch {
	case comma < 0 && point < 0:
		return parseNumber(b)
	case comma >= 0 && point >= 0, comma >= 0 && r.decimal == '.', point >= 0 && r.decimal == ',':
		return 0, errNumber // grouped digits, or the other sign
	case point >= 0:
		r.decimal = '.'
		return parseNumber(b)
	}
	r.scratch = append(r.scratch[:0], b...)
	r.scratch[comma] = '.'
	v, err := parseNumber(r.scratch)
	if err == nil {
		r.decimal = ','
	}
	return v, err
}

// sign says which decimal sign the file has shown so far, for messages.
func (r *records) sign() string {
	switch {
	case r.sep == ',' || r.decimal == 0:
		return ""
	case r.decimal == ',':
		return " with a decimal comma"
	}
	return " with a decimal point"
}

// missing is true for what stands in a column of numbers where there is none.
func missing(b []byte) bool {
	if len(b) == 0 {
		return true
	}
	if c := b[0] | 32; len(b) > 4 || c != 'n' && c != '-' && c != '#' && b[0] != '-' && b[0] != '#' {
		return false
	}
	switch strings.ToLower(string(b)) {
	case "-", "--", "n/a", "na", "null", "none", "#n/a":
		return true
	}
	return false
}
