package rawfs

import (
	"errors"

	"golang.org/x/sys/unix"

	"soakline/collector/telemetry"
)

// Supported says whether sensor files can be read on this system.
const Supported = true

func openFile(name string) (int, error) {
	for {
		fd, err := unix.Open(name, unix.O_RDONLY|unix.O_CLOEXEC|unix.O_NOCTTY, 0)
		if err != unix.EINTR {
			return fd, err
		}
	}
}

func preadFile(fd int, buf []byte, at int64) (int, error) { return unix.Pread(fd, buf, at) }

// Fetch is the first half of ReadInt, the system call. Many files fetched in a row and
// then parsed in a row are cheaper than both by turns, and it is written flat: after a
// system call the processor has forgotten its branch history, each return included.
func (f *File) Fetch() telemetry.State {
	if f.tree.hook != nil {
		return f.fetchAgain()
	}
	n, err := unix.Pread(f.fd, f.buf[:], 0)
	if err != nil {
		return f.failed(err)
	}
	f.n = n
	return telemetry.Fresh
}

func interrupted(err error) bool { return err == unix.EINTR }

func closeFile(fd int) error { return unix.Close(fd) }

func exists(name string) bool {
	return unix.Access(name, unix.F_OK) == nil
}

func listDir(name string) ([]string, error) {
	fd, err := unix.Open(name, unix.O_RDONLY|unix.O_CLOEXEC|unix.O_DIRECTORY, 0)
	if err != nil {
		return nil, err
	}
	defer unix.Close(fd)
	buf := make([]byte, 8192)
	var names []string
	for {
		n, err := unix.ReadDirent(fd, buf)
		if err == unix.EINTR {
			continue
		}
		if err != nil || n <= 0 {
			return names, err
		}
		for b := buf[:n]; len(b) > 0; {
			var used int
			used, _, names = unix.ParseDirent(b, -1, names)
			b = b[used:]
		}
	}
}

// StateOf says what a failed open or read means for a reading. The errors are those
// that drivers were seen to return (kernel: drivers/hwmon, drivers/platform/x86,
// drivers/powercap): ENODATA for a disabled sensor, ENXIO for one that is absent now,
// EAGAIN before the first conversion, EIO and its like from buses and firmware, ENODEV
// for an attribute that was removed under an open descriptor, EINVAL from a RAPL zone.
func StateOf(err error) telemetry.State {
	if err == nil {
		return telemetry.Fresh
	}
	if errno, ok := err.(unix.Errno); ok { // straight from the kernel: nothing is allocated
		return stateOf(errno)
	}
	var errno unix.Errno
	if errors.As(err, &errno) {
		return stateOf(errno)
	}
	return telemetry.GapIO
}

func stateOf(errno unix.Errno) telemetry.State {
	switch errno {
	case unix.EACCES, unix.EPERM:
		return telemetry.GapDenied
	case unix.EAGAIN, unix.EBUSY:
		return telemetry.GapNotReady
	case unix.ENODATA, unix.ENXIO, unix.EOPNOTSUPP, unix.ENOSYS:
		return telemetry.GapDisabled
	case unix.ENODEV, unix.ENOENT, unix.EBADF, unix.ESHUTDOWN:
		return telemetry.GapGone
	}
	return telemetry.GapIO
}
