package sampler

import (
	"time"

	"golang.org/x/sys/unix"
)

// sleptSinceBoot is how long the machine was suspended since it started: the clock that
// goes on in suspend minus the one that stops (clock_gettime(2)).
func sleptSinceBoot() time.Duration {
	var boot, mono unix.Timespec
	if unix.ClockGettime(unix.CLOCK_BOOTTIME, &boot) != nil || unix.ClockGettime(unix.CLOCK_MONOTONIC, &mono) != nil {
		return 0
	}
	return time.Duration(boot.Nano() - mono.Nano())
}
