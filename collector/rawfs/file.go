package rawfs

import "soakline/collector/telemetry"

// File is an open sensor file. Only one goroutine may use it at a time.
type File struct {
	fd   int
	path string
	tree *Tree
	buf  [64]byte // a sysfs number is shorter
}

// Path is the file's name relative to the tree's root.
func (f *File) Path() string { return f.path }

// ReadInt reads the file anew as a decimal integer. Unless the state is Fresh the value
// is meaningless. It allocates nothing.
func (f *File) ReadInt() (int64, telemetry.State) {
	n, err := f.pread(f.buf[:])
	if err != nil {
		return 0, StateOf(err)
	}
	return ParseInt(f.buf[:n])
}

// ReadText reads the file anew and gives its bytes without white space at the end. They
// are valid until the next read. It allocates nothing; longer text is cut at 64 bytes.
func (f *File) ReadText() ([]byte, telemetry.State) {
	n, state := f.ReadInto(f.buf[:])
	return trim(f.buf[:n]), state
}

// ReadInto reads the file anew from its beginning into buf and says how much came.
func (f *File) ReadInto(buf []byte) (int, telemetry.State) {
	n, err := f.pread(buf)
	if err != nil {
		return 0, StateOf(err)
	}
	if n == 0 {
		return 0, telemetry.GapEmpty
	}
	return n, telemetry.Fresh
}

// Close releases the descriptor; a second Close does nothing.
func (f *File) Close() error {
	if f == nil || f.fd < 0 {
		return nil
	}
	fd := f.fd
	f.fd = -1
	return closeFile(fd)
}

func (f *File) pread(buf []byte) (int, error) {
	if f.tree.hook != nil {
		if err := f.tree.hook(OpRead, f.path); err != nil {
			return 0, err
		}
	}
	return preadFile(f.fd, buf)
}
