package main

import (
	"math"
	"os"
	"runtime/debug"

	"soakline/collector/load"
)

// ownLoadVerb is the hidden verb of the process in which soakline's own load works.
const ownLoadVerb = "own-load"

type ownLoadCmd struct{}

// Run works until its input ends. The memory of a load is what was asked for: the limit
// of the watching program is not its.
func (ownLoadCmd) Run() error {
	debug.SetMemoryLimit(math.MaxInt64)
	return load.Serve(os.Stdin, os.Stdout)
}
