package archive

import (
	"errors"
	"fmt"
	"io/fs"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Error says what could not be done, why, and what the user can do about it.
type Error struct {
	Op     string // "open", "record", "load" ...
	Object string // the file or session
	Cause  error
	Hint   string // a plain sentence, or ""
}

func (e *Error) Error() string {
	text := fmt.Sprintf("archive: %s %s: %v", e.Op, e.Object, e.Cause)
	if e.Hint != "" {
		text += ". " + e.Hint
	}
	return text
}

func (e *Error) Unwrap() error { return e.Cause }

// The conditions that a caller may tell apart.
var (
	ErrNotFound  = errors.New("there is no such session")
	ErrAmbiguous = errors.New("more than one session fits")
	ErrRecording = errors.New("it is being recorded now")
	ErrNewer     = errors.New("it was written by a newer soakline")
	ErrDamaged   = errors.New("its data are damaged")
)

// fault wraps a cause with the hint that fits it.
func fault(op, object string, cause error) error {
	if cause == nil {
		return nil
	}
	var known *Error
	if errors.As(cause, &known) {
		return cause
	}
	return &Error{op, object, cause, hint(cause)}
}

func hint(cause error) string {
	switch {
	case errors.Is(cause, ErrNotFound):
		return "List the sessions to see their ids"
	case errors.Is(cause, ErrAmbiguous):
		return "Give more letters of the id"
	case errors.Is(cause, ErrRecording):
		return "Stop the recording first"
	case errors.Is(cause, ErrPinned):
		return "Unpin it first"
	case errors.Is(cause, ErrNewer):
		return "Use that version, or set SOAKLINE_DATA to another folder"
	case errors.Is(cause, ErrDamaged):
		return damaged
	case errors.Is(cause, fs.ErrPermission), errors.Is(cause, fs.ErrNotExist):
		return folder
	}
	switch code(cause) {
	case sqlite3.SQLITE_FULL:
		return "The disk is full: free some space; a recording goes on by itself"
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return "Another program holds the file: close it, or wait"
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN:
		return folder
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return damaged
	case sqlite3.SQLITE_IOERR:
		return "The disk reported an error: check it, and the space left on it"
	}
	return ""
}

const folder = "Check that the folder exists and may be written, or set SOAKLINE_DATA to one that may"

const damaged = "Keep a copy of the file and of those beside it, move them aside, and start again; a copy may be saved with SQLite's own .recover"

// code is SQLite's primary result code, 0 where the cause is none of SQLite's.
func code(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code() & 0xff
	}
	return 0
}
