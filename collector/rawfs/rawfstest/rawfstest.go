// Package rawfstest gives tests a machine's sensor files: it unpacks a text archive of
// testdata/trees into a temporary directory, changes files there, and makes chosen
// paths fail with a real errno, as plain files cannot.
//
// An archive is in txtar form. A member named "path -> target" is a symbolic link; the
// text before the first member says where the tree comes from.
package rawfstest

import (
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"golang.org/x/tools/txtar"

	"soakline/collector/rawfs"
)

// Machine is an unpacked tree whose files a test may change and break.
type Machine struct {
	Root string
	tb   testing.TB
	mu   sync.Mutex
	fail map[call]error
}

type call struct {
	op   rawfs.Op
	path string
}

// Unpack gives the machine of testdata/trees/NAME.txtar.
func Unpack(tb testing.TB, name string) *Machine {
	tb.Helper()
	ar, err := txtar.ParseFile(filepath.Join(moduleRoot(tb), "testdata", "trees", name+".txtar"))
	if err != nil {
		tb.Fatal(err)
	}
	return unpack(tb, ar)
}

// FromText gives the machine of an archive written in a test.
func FromText(tb testing.TB, text string) *Machine {
	tb.Helper()
	return unpack(tb, txtar.Parse([]byte(text)))
}

func unpack(tb testing.TB, ar *txtar.Archive) *Machine {
	tb.Helper()
	m := &Machine{Root: tb.TempDir(), tb: tb, fail: map[call]error{}}
	for _, f := range ar.Files {
		if link, target, ok := strings.Cut(f.Name, " -> "); ok {
			m.Link(link, target)
			continue
		}
		m.Write(f.Name, string(f.Data))
	}
	return m
}

// Tree is the machine as sources see it, faults included.
func (m *Machine) Tree() *rawfs.Tree { return rawfs.At(m.Root).WithHook(m.fault) }

// Write sets a file's text in place, so that open descriptors see it.
func (m *Machine) Write(path, text string) {
	m.tb.Helper()
	full := m.path(path)
	if err := os.WriteFile(full, []byte(text), 0o644); err != nil {
		m.tb.Fatal(err)
	}
}

// Link makes a symbolic link.
func (m *Machine) Link(path, target string) {
	m.tb.Helper()
	if err := os.Symlink(filepath.FromSlash(target), m.path(path)); err != nil {
		m.tb.Fatal(err)
	}
}

// Fail makes opens or reads of a path fail with err from now on; nil heals the path.
func (m *Machine) Fail(op rawfs.Op, path string, err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.fail[call{op, path}] = err
}

func (m *Machine) fault(op rawfs.Op, path string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.fail[call{op, path}]
}

func (m *Machine) path(p string) string {
	m.tb.Helper()
	full := filepath.Join(m.Root, filepath.FromSlash(p))
	if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
		m.tb.Fatal(err)
	}
	return full
}

func moduleRoot(tb testing.TB) string {
	tb.Helper()
	dir, err := os.Getwd()
	if err != nil {
		tb.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			tb.Fatal("no go.mod above the test's directory")
		}
		dir = up
	}
}
