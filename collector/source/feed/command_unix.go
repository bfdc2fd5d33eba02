//go:build unix

package feed

import (
	"os/exec"
	"syscall"
)

// shell runs a command line in a process group of its own, so that all it starts can be
// ended with it, and so that an interrupt from the keyboard reaches soakline alone.
func shell(line string) *exec.Cmd {
	cmd := exec.Command("/bin/sh", "-c", line)
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	return cmd
}

// end asks the whole group to end, kill ends it.
func end(cmd *exec.Cmd)  { syscall.Kill(-cmd.Process.Pid, syscall.SIGTERM) }
func kill(cmd *exec.Cmd) { syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
