//go:build !windows

package main

import (
	"os"
	"os/exec"
	"syscall"
)

// ownGroup gives a command a process group of its own, so that what it starts ends with it.
func ownGroup(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }

func askGroup(p *os.Process)  { syscall.Kill(-p.Pid, syscall.SIGTERM) }
func killGroup(p *os.Process) { syscall.Kill(-p.Pid, syscall.SIGKILL) }
