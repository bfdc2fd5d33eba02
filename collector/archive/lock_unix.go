//go:build unix

package archive

import (
	"errors"
	"os"
	"syscall"
)

// tryLock takes the exclusive lock of a file, which ends with the process that holds it,
// however that ends. ok is false where another one holds it.
func tryLock(f *os.File) (ok bool, err error) {
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return false, nil
	}
	return err == nil, err
}
