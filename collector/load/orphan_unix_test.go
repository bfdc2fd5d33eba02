//go:build unix

package load

import (
	"fmt"
	"os"
	"os/exec"
	"syscall"
	"testing"
	"time"
)

// TestParentChild is the process that TestALoadEndsWithItsParent kills: it starts a load,
// waits until it works, and tells its process's number.
func TestParentChild(t *testing.T) {
	if os.Getenv("SOAKLINE_TEST_PARENT") == "" {
		t.Skip("only as the child of TestALoadEndsWithItsParent")
	}
	p := start(t, load("integer:1"))
	for {
		p.Beat()
		time.Sleep(10 * time.Millisecond)
		if p.Work().Done > 0 {
			fmt.Println("load", p.cmd.Process.Pid)
		}
	}
}

func TestALoadEndsWithItsParent(t *testing.T) {
	parent := exec.Command(os.Args[0], "-test.run=^TestParentChild$", "-test.v")
	parent.Env = append(os.Environ(), "SOAKLINE_TEST_PARENT=1")
	out, err := parent.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := parent.Start(); err != nil {
		t.Fatal(err)
	}
	pid := 0
	for pid == 0 {
		var word string
		if _, err := fmt.Fscan(out, &word); err != nil {
			t.Fatal("the parent told no load: ", err)
		}
		if word == "load" {
			fmt.Fscan(out, &pid)
		}
	}
	if syscall.Kill(pid, 0) != nil {
		t.Fatal("the load does not run")
	}
	parent.Process.Kill()
	killed := time.Now()
	parent.Wait()
	for gone := false; !gone; time.Sleep(time.Millisecond) {
		gone = syscall.Kill(pid, 0) != nil || defunct(pid)
		if time.Since(killed) > 20*time.Second {
			syscall.Kill(pid, syscall.SIGKILL)
			t.Fatal("the load outlives its parent")
		}
	}
	t.Logf("gone %v after its parent was killed", time.Since(killed))
}

// defunct is true for a process that has ended and that nobody has waited for: where the
// tests run as the first process of a container nobody does.
func defunct(pid int) bool {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	var n int
	var name, state string
	fmt.Sscan(string(b), &n, &name, &state)
	return err == nil && state == "Z"
}
