package guest

import (
	"bufio"
	"io"
	"os"
	"os/exec"
	"strconv"
	"testing"
	"time"
)

// Machine is a virtual machine that can be started.
type Machine struct {
	Kernel, Initrd string
	Chipset        string // options of the machine q35, each with a comma before it
	CPU            string
	Memory         int      // MB
	Words          string   // added to the kernel's command line; the guest reads them by Word
	Args           []string // more arguments, for drives and firmware tables
	Reboots        bool     // a reset starts it again: waking from suspend is a reset
	Limit          time.Duration
}

// Start boots the machine and gives its lines. It ends with the test at the latest, and
// after Limit whatever happens.
func (m Machine) Start(t testing.TB) (lines *bufio.Scanner, kill func()) {
	t.Helper()
	args := []string{"-machine", "q35,accel=tcg" + m.Chipset, "-cpu", m.CPU, "-smp", "1", "-m", strconv.Itoa(m.Memory), "-nodefaults", "-no-user-config",
		"-display", "none", "-serial", "stdio", "-kernel", m.Kernel, "-initrd", m.Initrd,
		"-append", "console=ttyS0 quiet panic=-1 no_timer_check " + m.Words}
	if !m.Reboots {
		args = append(args, "-no-reboot")
	}
	cmd := exec.Command("qemu-system-x86_64", append(args, m.Args...)...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatalf("%v (apt-get install --no-install-recommends qemu-system-x86)", err)
	}
	limit := time.AfterFunc(m.Limit, func() { cmd.Process.Kill() })
	ended := false
	kill = func() {
		if !ended {
			ended = true
			limit.Stop()
			cmd.Process.Kill()
			io.Copy(io.Discard, out)
			cmd.Wait()
		}
	}
	t.Cleanup(kill)
	return bufio.NewScanner(out), kill
}
