package rawfs

import (
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// Op is a system call that a Hook may refuse.
type Op string

// The calls that a Hook is asked about.
const (
	OpOpen Op = "open"
	OpRead Op = "read"
)

// Hook stands in for a failing driver in tests: it is asked before every call on a path
// relative to the root and returns the errno that the call fails with, or nil.
type Hook func(op Op, path string) error

// Tree is a directory under which sensor files lie: "/" on a running machine, a copy of
// another machine's files in a test. All its paths are relative to that root, with
// forward slashes: "sys/class/hwmon".
type Tree struct {
	root string
	hook Hook
}

// At gives the tree below root; "" is the machine itself.
func At(root string) *Tree {
	if root == "" {
		root = "/"
	}
	return &Tree{root: root}
}

// WithHook gives the same tree with h asked before every open and read.
func (t *Tree) WithHook(h Hook) *Tree { return &Tree{root: t.root, hook: h} }

// IsMachine is true where the tree is the running machine itself, not a copy.
func (t *Tree) IsMachine() bool { return t.root == "/" }

// Path is the full name of a path in the tree, as errors and remedies show it.
func (t *Tree) Path(p string) string { return filepath.Join(t.root, filepath.FromSlash(p)) }

// Open opens a file for repeated reading. The error is an *fs.PathError with the errno.
func (t *Tree) Open(p string) (*File, error) {
	if err := t.refused(OpOpen, p); err != nil {
		return nil, err
	}
	full := t.Path(p)
	fd, err := openFile(full)
	if err != nil {
		return nil, &fs.PathError{Op: "open", Path: full, Err: err}
	}
	return &File{fd: fd, path: p, tree: t}, nil
}

// mostText is the longest text that Text reads, for /proc/cpuinfo of a large machine.
const mostText = 4 << 20

// Text reads a file once, to its end, and gives it without white space at its ends. One
// call is not enough: /proc hands out a page at a time.
func (t *Tree) Text(p string) (string, error) {
	f, err := t.Open(p)
	if err != nil {
		return "", err
	}
	defer f.Close()
	buf := make([]byte, 4096)
	for n := 0; ; {
		more, err := f.pread(buf[n:], int64(n))
		if err != nil {
			return "", &fs.PathError{Op: "read", Path: t.Path(p), Err: err}
		}
		n += more
		if more == 0 || n >= mostText {
			return strings.TrimRight(strings.TrimSpace(string(buf[:n])), "\x00"), nil
		}
		if n == len(buf) {
			buf = append(buf, make([]byte, len(buf))...)
		}
	}
}

// TextOr reads as Text does and gives other where that fails or the file is empty.
func (t *Tree) TextOr(p, other string) string {
	if s, err := t.Text(p); err == nil && s != "" {
		return s
	}
	return other
}

// Int reads a decimal integer once.
func (t *Tree) Int(p string) (int64, error) {
	s, err := t.Text(p)
	if err != nil {
		return 0, err
	}
	v, state := ParseInt([]byte(s))
	if !state.Usable() {
		return 0, fmt.Errorf("%s: %q: %s", t.Path(p), s, state.Reason())
	}
	return v, nil
}

// List names the entries of a directory in natural order: hwmon2 before hwmon10.
func (t *Tree) List(dir string) ([]string, error) {
	if err := t.refused(OpOpen, dir); err != nil {
		return nil, err
	}
	full := t.Path(dir)
	names, err := listDir(full)
	if err != nil {
		return nil, &fs.PathError{Op: "list", Path: full, Err: err}
	}
	slices.SortFunc(names, Natural)
	return names, nil
}

// Exists is true where a path can be looked up; nothing is opened.
func (t *Tree) Exists(p string) bool { return exists(t.Path(p)) }

// Real resolves all links of p and gives the path relative to the root.
func (t *Tree) Real(p string) (string, error) {
	root, err := filepath.EvalSymlinks(t.root)
	if err != nil {
		return "", err
	}
	real, err := filepath.EvalSymlinks(t.Path(p))
	if err != nil {
		return "", err
	}
	rel, err := filepath.Rel(root, real)
	if err != nil {
		return "", err
	}
	return path.Clean(filepath.ToSlash(rel)), nil
}

func (t *Tree) refused(op Op, p string) error {
	if t.hook == nil {
		return nil
	}
	if err := t.hook(op, p); err != nil {
		return &fs.PathError{Op: string(op), Path: t.Path(p), Err: err}
	}
	return nil
}
