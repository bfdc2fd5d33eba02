//go:build !linux

package load

import (
	"errors"
	"runtime"
)

const canPin = false

// pin is never called here.
func pin(int) error { return errors.ErrUnsupported }

// processors counts the logical processors; which is which is not known.
func processors() ([]int, error) { return make([]int, runtime.NumCPU()), nil }
