package sampler

import (
	"time"

	"golang.org/x/sys/unix"
)

// sleptSinceBoot is how long the machine was suspended since it started: the clock that
// goes on in suspend minus the one that stops (clock_gettime(2)). The two cannot be read
// at one instant; on a busy machine the program may lose the processor in between, so
// that it tries again where the reading of the first is not tight around the second.
func sleptSinceBoot() time.Duration {
	var best, width time.Duration
	for try := range 5 {
		before, boot, after := clock(unix.CLOCK_MONOTONIC), clock(unix.CLOCK_BOOTTIME), clock(unix.CLOCK_MONOTONIC)
		if w := after - before; try == 0 || w < width {
			best, width = max(boot-after, 0), w
		}
		if width < time.Millisecond {
			break
		}
	}
	return best
}

func clock(id int32) time.Duration {
	var t unix.Timespec
	if unix.ClockGettime(id, &t) != nil {
		return 0
	}
	return time.Duration(t.Nano())
}
