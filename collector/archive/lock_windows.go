package archive

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// tryLock takes the exclusive lock of a file, which ends with the process that holds it,
// however that ends. ok is false where another one holds it.
func tryLock(f *os.File) (ok bool, err error) {
	const flags = windows.LOCKFILE_EXCLUSIVE_LOCK | windows.LOCKFILE_FAIL_IMMEDIATELY
	err = windows.LockFileEx(windows.Handle(f.Fd()), flags, 0, 1, 0, new(windows.Overlapped))
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return false, nil
	}
	return err == nil, err
}
