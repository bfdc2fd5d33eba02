//go:build unix

package sampler

import (
	"time"

	"golang.org/x/sys/unix"
)

// processTime is user and system time of the process (getrusage(2)).
func processTime() (time.Duration, bool) {
	var u unix.Rusage
	if unix.Getrusage(unix.RUSAGE_SELF, &u) != nil {
		return 0, false
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()), true
}
