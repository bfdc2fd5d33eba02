package feed

import (
	"context"
	"fmt"
	"io"
	"os"
	"sync"
	"syscall"
	"time"
)

// followFile gives what is written to a file or a FIFO from now on: a file is looked at
// again and again as it grows, and from its beginning where it was replaced, cut or
// written anew.
func followFile(path string, every time.Duration) func(context.Context) (io.ReadCloser, error) {
	return func(ctx context.Context) (io.ReadCloser, error) {
		f := &follower{path: path, every: every, gone: make(chan struct{})}
		if err := f.open(); err != nil {
			return nil, err
		}
		if f.info.Mode().IsRegular() {
			f.at, _ = f.file.Seek(0, io.SeekEnd)
		} else if f.info.IsDir() {
			f.Close()
			return nil, fmt.Errorf("%s is a folder: expected a file or a FIFO", path)
		}
		return f, nil
	}
}

// follower is a file at whose end the next line is waited for.
type follower struct {
	path  string
	every time.Duration
	gone  chan struct{}
	once  sync.Once

	mu   sync.Mutex // Close comes from elsewhere
	file *os.File
	info os.FileInfo
	at   int64 // how far it was read
}

// open opens for reading only, and without waiting: a FIFO that nobody writes to reads as
// empty until somebody does.
func (f *follower) open() error {
	file, err := os.OpenFile(f.path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return err
	}
	info, err := file.Stat()
	if err != nil {
		file.Close()
		return err
	}
	f.file, f.info, f.at = file, info, 0
	return nil
}

// Read waits at the end of the file for more.
func (f *follower) Read(b []byte) (int, error) {
	for {
		f.mu.Lock()
		file := f.file
		f.mu.Unlock()
		n, err := file.Read(b)
		if n > 0 {
			f.at += int64(n)
			return n, nil
		}
		if err != nil && err != io.EOF {
			return 0, err
		}
		select {
		case <-f.gone:
			return 0, io.EOF
		case <-time.After(f.every):
		}
		if err := f.look(); err != nil {
			return 0, err
		}
	}
}

// look begins at the start of the file where it is another one by now, or was cut or
// written anew.
func (f *follower) look() error {
	info, err := os.Stat(f.path)
	if err != nil {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	select {
	case <-f.gone:
		return io.EOF
	default:
	}
	before := f.info
	switch {
	case !os.SameFile(info, before):
		old := f.file
		if err := f.open(); err != nil {
			return err
		}
		old.Close()
	case !info.Mode().IsRegular():
	case info.Size() < f.at, info.Size() == f.at && !info.ModTime().Equal(before.ModTime()) && info.Size() == before.Size():
		f.at, err = f.file.Seek(0, io.SeekStart)
	}
	f.info = info
	return err
}

// Close ends the wait.
func (f *follower) Close() error {
	f.once.Do(func() {
		close(f.gone)
		f.mu.Lock()
		defer f.mu.Unlock()
		f.file.Close()
	})
	return nil
}
