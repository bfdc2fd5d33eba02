//go:build !linux

package sampler

import "time"

// sleptSinceBoot does not know here. A sleep then shows as a stretch without samples,
// which the sampler marks as what it is.
func sleptSinceBoot() time.Duration { return 0 }
