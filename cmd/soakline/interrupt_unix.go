//go:build !windows

package main

import (
	"os"
	"syscall"
)

// interrupt asks a process to end.
func interrupt(p *os.Process) error { return p.Signal(syscall.SIGTERM) }
