package rawfs

import "soakline/collector/telemetry"

// File is an open sensor file. Only one goroutine may use it at a time.
type File struct {
	fd   int
	path string
	tree *Tree
	n    int      // what Fetch read into buf
	buf  [64]byte // a sysfs number is shorter
}

// Path is the file's name relative to the tree's root.
func (f *File) Path() string { return f.path }

// ReadInt reads the file anew as a decimal integer. Unless the state is Fresh the value
// is meaningless. It allocates nothing.
func (f *File) ReadInt() (int64, telemetry.State) {
	if state := f.Fetch(); state != telemetry.Fresh {
		return 0, state
	}
	return f.Int()
}

// failed says what an error means; a read that a signal cut short is made again.
func (f *File) failed(err error) telemetry.State {
	if interrupted(err) {
		return f.fetchAgain()
	}
	f.n = 0
	return StateOf(err)
}

func (f *File) fetchAgain() telemetry.State {
	n, err := f.pread(f.buf[:], 0)
	f.n = max(n, 0)
	return StateOf(err)
}

// Int is the second half of ReadInt: it parses what the last Fetch read.
func (f *File) Int() (int64, telemetry.State) { return ParseInt(f.buf[:f.n]) }

// ReadText reads the file anew and gives its bytes without white space at the end. They
// are valid until the next read. It allocates nothing; longer text is cut at 64 bytes.
func (f *File) ReadText() ([]byte, telemetry.State) {
	n, state := f.ReadInto(f.buf[:])
	return trim(f.buf[:n]), state
}

// ReadInto reads the file anew from its beginning into buf and says how much came.
func (f *File) ReadInto(buf []byte) (int, telemetry.State) {
	n, err := f.pread(buf, 0)
	if err != nil {
		return 0, StateOf(err)
	}
	if n == 0 {
		return 0, telemetry.GapEmpty
	}
	return n, telemetry.Fresh
}

// ReadAt reads into buf from offset at, once: a register of /dev/cpu/N/msr lies at its
// number. A short read is GapEmpty.
func (f *File) ReadAt(buf []byte, at int64) telemetry.State {
	n, err := f.pread(buf, at)
	switch {
	case err != nil:
		return StateOf(err)
	case n < len(buf):
		return telemetry.GapEmpty
	}
	return telemetry.Fresh
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

// pread asks the hook, reads, and reads again where a signal came first.
func (f *File) pread(buf []byte, at int64) (int, error) {
	if f.tree.hook != nil {
		if err := f.tree.hook(OpRead, f.path); err != nil {
			return 0, err
		}
	}
	for {
		n, err := preadFile(f.fd, buf, at)
		if err == nil || !interrupted(err) {
			return n, err
		}
	}
}
