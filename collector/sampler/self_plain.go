//go:build !unix && !windows

package sampler

import "time"

func processTime() (time.Duration, bool) { return 0, false }
