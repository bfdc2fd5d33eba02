package main

import (
	"os"
	"os/exec"
)

// ownGroup does nothing: the system ends one process at a time, and what a command has
// started goes on.
func ownGroup(*exec.Cmd) {}

func askGroup(p *os.Process)  { p.Kill() }
func killGroup(p *os.Process) { p.Kill() }
