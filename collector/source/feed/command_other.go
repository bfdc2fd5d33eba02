//go:build !unix

package feed

import "os/exec"

// shell runs a command line by the system's command interpreter.
func shell(line string) *exec.Cmd { return exec.Command("cmd", "/C", line) }

// end ends the interpreter; what it started must end by its closed output.
func end(cmd *exec.Cmd)  { cmd.Process.Kill() }
func kill(cmd *exec.Cmd) { cmd.Process.Kill() }
