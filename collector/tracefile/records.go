package tracefile

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"unicode/utf8"
)

// What no honest trace exceeds; beyond it the file is refused rather than read into memory.
const (
	maxRecord = 1 << 20 // bytes in one row
	maxCell   = 1 << 16 // bytes in one cell
	maxCells  = 1 << 13 // cells in one row
)

// cell is one field of a record. Its text is valid until the next record is read.
type cell struct {
	text   []byte
	at     int // where it begins in the record's raw text
	quoted bool
}

// records splits a stream into RFC 4180 records and notes, keeping exact places.
type records struct {
	in      *bufio.Reader
	file    string
	next    int    // the line after raw
	line    int    // the line on which raw begins
	raw     []byte // the record as it stands in the file, without its line end
	cells   []cell
	sep     byte   // between cells
	decimal byte   // the decimal sign, once the file has shown it; 0 before
	scratch []byte // a number in the other form
	plain   []byte // the text of quoted cells, quotes taken off
}

func newRecords(r io.Reader, file string) *records {
	return &records{in: bufio.NewReaderSize(r, 1<<16), file: file, next: 1, sep: ','}
}

// read moves to the next record or note that is not blank. note is true for a line that
// begins with #: it stands in raw. The error is io.EOF at the end.
func (r *records) read() (note bool, err error) {
	if note, err = r.text(); err != nil || note {
		return note, err
	}
	return false, r.split()
}

// text is read without cutting the record into cells.
func (r *records) text() (note bool, err error) {
	for {
		if err := r.fill(); err != nil {
			return false, err
		}
		if r.line == 1 {
			r.raw = bytes.TrimPrefix(r.raw, []byte("\ufeff"))
		}
		switch {
		case len(bytes.TrimSpace(r.raw)) == 0:
			continue
		case r.raw[0] == '#':
			return true, r.check()
		}
		return false, r.check()
	}
}

// fill reads one record's text: lines until the quotes are even.
func (r *records) fill() error {
	r.raw, r.line = r.raw[:0], r.next
	open := false
	for {
		from := len(r.raw)
		err := r.appendLine()
		if err == io.EOF && len(r.raw) == 0 {
			return io.EOF
		}
		if err != nil && err != io.EOF {
			return err
		}
		note := r.raw[0] == '#' || r.line == 1 && bytes.HasPrefix(r.raw, []byte("\ufeff#"))
		if bytes.Count(r.raw[from:], []byte{'"'})%2 == 1 && !note {
			open = !open
		}
		if !open || err == io.EOF {
			break
		}
	}
	r.raw = bytes.TrimSuffix(r.raw, []byte{'\n'})
	r.raw = bytes.TrimSuffix(r.raw, []byte{'\r'})
	return nil
}

// appendLine adds the next line to raw, with its line end.
func (r *records) appendLine() error {
	for {
		part, err := r.in.ReadSlice('\n')
		r.raw = append(r.raw, part...)
		if len(r.raw) > maxRecord {
			return r.fail(0, "a row of at most 1 MiB", "a longer one (a quote not closed, or lines not ended by LF or CRLF?)")
		}
		if err == bufio.ErrBufferFull {
			continue
		}
		if err == nil {
			r.next++
		} else if err != io.EOF {
			return fmt.Errorf("%s: read: %w", r.file, err)
		}
		return err
	}
}

// check refuses what is no text.
func (r *records) check() error {
	if i := bytes.IndexByte(r.raw, 0); i >= 0 {
		return r.fail(i, "text in UTF-8", "a NUL byte (a binary file, or UTF-16: save it as UTF-8)")
	}
	if utf8.Valid(r.raw) {
		return nil
	}
	at := 0
	for {
		c, w := utf8.DecodeRune(r.raw[at:])
		if c == utf8.RuneError && w <= 1 {
			return r.fail(at, "text in UTF-8", fmt.Sprintf("the byte 0x%02x (another encoding: save it as UTF-8)", r.raw[at]))
		}
		at += w
	}
}

// split cuts raw into cells.
func (r *records) split() error {
	r.cells, r.plain = r.cells[:0], r.plain[:0]
	for at := 0; ; {
		c, end, err := r.cell(at)
		if err != nil {
			return err
		}
		if len(c.text) > maxCell {
			return r.fail(at, "a cell of at most 64 KiB", fmt.Sprintf("one of %d bytes", len(c.text)))
		}
		if r.cells = append(r.cells, c); len(r.cells) > maxCells {
			return r.fail(at, fmt.Sprintf("at most %d columns", maxCells), "more")
		}
		if end == len(r.raw) {
			return nil
		}
		at = end + 1
	}
}

// cell reads the cell that begins at an offset and gives the offset of the separator after it.
func (r *records) cell(at int) (cell, int, error) {
	rest := r.raw[at:]
	if len(rest) > 0 && rest[0] == '"' {
		return r.quoted(at)
	}
	end := bytes.IndexByte(rest, r.sep)
	if end < 0 {
		end = len(rest)
	}
	if q := bytes.IndexByte(rest[:end], '"'); q >= 0 {
		return cell{}, 0, r.fail(at+q, `a cell that holds a quote to be quoted, and the quote doubled ("")`, shown(rest[:end]))
	}
	return cell{text: bytes.TrimSpace(rest[:end]), at: at}, at + end, nil
}

func (r *records) quoted(at int) (cell, int, error) {
	from := len(r.plain)
	for i := at + 1; i < len(r.raw); i++ {
		if r.raw[i] != '"' {
			r.plain = append(r.plain, r.raw[i])
			continue
		}
		if i+1 < len(r.raw) && r.raw[i+1] == '"' {
			r.plain = append(r.plain, '"')
			i++
			continue
		}
		if i+1 < len(r.raw) && r.raw[i+1] != r.sep {
			return cell{}, 0, r.fail(i+1, r.sepWord()+" after the closing quote", shown(r.raw[i+1:]))
		}
		return cell{text: r.plain[from:len(r.plain):len(r.plain)], at: at, quoted: true}, i + 1, nil
	}
	return cell{}, 0, r.fail(at, "the quote that opens here to be closed", "the end of the file")
}

// fail is an error at an offset of the present record.
func (r *records) fail(at int, want, found string) *Error {
	before := r.raw[:min(at, len(r.raw))]
	line := r.line + bytes.Count(before, []byte{'\n'})
	column := utf8.RuneCount(before[bytes.LastIndexByte(before, '\n')+1:]) + 1
	return &Error{File: r.file, Line: line, Column: column, Want: want, Found: found}
}

func (r *records) sepWord() string {
	switch r.sep {
	case ';':
		return "a semicolon"
	case '\t':
		return "a tab"
	}
	return "a comma"
}
