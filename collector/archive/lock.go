package archive

import (
	"errors"
	"os"
)

// lock says that this process records a session. It is a file beside the archive, locked
// by the operating system: it cannot outlive a crash, as a note in the archive would.
type lock struct{ file *os.File }

func (s *Store) lockPath(id string) string { return s.path + "." + id + ".lock" }

// lock takes a session's lock; nil where another process holds it.
func (s *Store) lock(id string) (*lock, error) {
	f, err := os.OpenFile(s.lockPath(id), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	ok, err := tryLock(f)
	if !ok {
		return nil, errors.Join(err, f.Close())
	}
	return &lock{f}, nil
}

func (l *lock) release() {
	if l == nil {
		return
	}
	os.Remove(l.file.Name()) // before the close, so that nobody can lock it in between; Windows needs the second
	l.file.Close()
	os.Remove(l.file.Name())
}
