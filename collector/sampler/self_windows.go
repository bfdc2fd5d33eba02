package sampler

import (
	"time"

	"golang.org/x/sys/windows"
)

// processTime is user and kernel time of the process (GetProcessTimes, in steps of 100 ns).
func processTime() (time.Duration, bool) {
	var created, ended, kernel, user windows.Filetime
	if windows.GetProcessTimes(windows.CurrentProcess(), &created, &ended, &kernel, &user) != nil {
		return 0, false
	}
	span := func(f windows.Filetime) int64 { return int64(f.HighDateTime)<<32 | int64(f.LowDateTime) }
	return time.Duration(100 * (span(kernel) + span(user))), true
}
