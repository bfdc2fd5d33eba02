package archive

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	_ "modernc.org/sqlite" // the driver
)

// Store is an open archive. All its methods may be called by any goroutine.
type Store struct {
	path  string
	log   *slog.Logger
	write *sql.DB // one connection
	read  *sql.DB
	now   func() time.Time

	every    time.Duration // between two commits of a recorder
	patience time.Duration // with a disk that does not take the end of a session
}

// commitEvery leaves a fifth of the second that may be lost for the commit itself: a disk
// under power-cut tests took up to 0.17 s for a flush.
const commitEvery = 800 * time.Millisecond

// DefaultPath is the archive of this user: SOAKLINE_DATA (a folder, or a file ending in
// .db) if set, else soakline/sessions.db in the system's folder for a user's data
// (XDG Base Directory Specification 0.8 where there is no other custom).
func DefaultPath() (string, error) {
	if p := os.Getenv("SOAKLINE_DATA"); p != "" {
		if strings.HasSuffix(p, ".db") {
			return p, nil
		}
		return filepath.Join(p, "sessions.db"), nil
	}
	folder, err := dataFolder(runtime.GOOS, os.Getenv)
	if err != nil {
		return "", &Error{"find", "the user's data folder", err, "Set SOAKLINE_DATA to a folder for the sessions"}
	}
	return filepath.Join(folder, "soakline", "sessions.db"), nil
}

func dataFolder(system string, env func(string) string) (string, error) {
	home := cmp.Or(env("HOME"), env("USERPROFILE"))
	switch {
	case system == "windows" && env("LocalAppData") != "":
		return env("LocalAppData"), nil
	case home == "" && !filepath.IsAbs(env("XDG_DATA_HOME")):
		return "", errors.New("neither HOME nor XDG_DATA_HOME is set")
	case system == "darwin":
		return filepath.Join(home, "Library", "Application Support"), nil
	case filepath.IsAbs(env("XDG_DATA_HOME")): // the specification ignores relative ones
		return env("XDG_DATA_HOME"), nil
	}
	return filepath.Join(home, ".local", "share"), nil
}

// Open opens the archive, or makes one, brings its schema up to date, and closes the
// sessions that a crash left open. log may be nil.
func Open(path string, log *slog.Logger) (*Store, error) {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	s := &Store{path: path, log: log, now: time.Now, every: commitEvery, patience: 15 * time.Second}
	if err := s.open(); err != nil {
		s.Close()
		return nil, fault("open", path, err)
	}
	return s, nil
}

func (s *Store) open() error {
	abs, err := filepath.Abs(s.path)
	if err != nil {
		return err
	}
	if err := create(abs); err != nil {
		return err
	}
	if s.write, err = sql.Open("sqlite", dsn(abs, "_txlock=immediate")); err != nil {
		return err
	}
	s.write.SetMaxOpenConns(1)
	if s.read, err = sql.Open("sqlite", dsn(abs, "_pragma=query_only(1)")); err != nil {
		return err
	}
	s.read.SetMaxOpenConns(4)
	if err := migrate(s.write, migrations); err != nil {
		return err
	}
	return s.closeBroken(context.Background())
}

// create makes an empty file and its folder where there is none, so that only the user
// may read it (SQLite gives its log the same mode), and so that it outlives a power cut.
func create(path string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, os.ErrExist) {
		return nil
	}
	if err != nil {
		return err
	}
	if folder, err := os.Open(filepath.Dir(path)); err == nil {
		folder.Sync() // not every system can; the file is there all the same
		folder.Close()
	}
	return f.Close()
}

// dsn opens a file with write-ahead log and a flush at every commit. auto_vacuum has to
// come before anything that writes the first page.
func dsn(abs string, more string) string {
	p := filepath.ToSlash(abs)
	if !strings.HasPrefix(p, "/") {
		p = "/" + p // a drive letter
	}
	u := url.URL{Scheme: "file", Path: p, RawQuery: "_pragma=busy_timeout(5000)&_pragma=auto_vacuum(incremental)" +
		"&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=foreign_keys(1)&" + more}
	return u.String()
}

// Path is the archive's file.
func (s *Store) Path() string { return s.path }

// Close closes the archive. Recorders must have ended before.
func (s *Store) Close() error {
	var errs []error
	if s.read != nil {
		errs = append(errs, s.read.Close())
	}
	if s.write != nil {
		errs = append(errs, s.write.Close()) // the last one moves the log into the file
	}
	return fault("close", s.path, errors.Join(errs...))
}

// update runs f in one write transaction.
func (s *Store) update(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := f(tx); err != nil {
		return errors.Join(err, ignoreDone(tx.Rollback()))
	}
	return tx.Commit()
}

func ignoreDone(err error) error {
	if errors.Is(err, sql.ErrTxDone) {
		return nil
	}
	return err
}

// timeForm sorts as text.
const timeForm = "2006-01-02T15:04:05.000000000Z"

func timeText(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UTC().Format(timeForm)
}

func parseTime(s sql.NullString) (time.Time, error) {
	if !s.Valid {
		return time.Time{}, nil
	}
	t, err := time.Parse(timeForm, s.String)
	if err != nil {
		return t, fmt.Errorf("%w: time %q", ErrDamaged, s.String)
	}
	return t, nil
}
