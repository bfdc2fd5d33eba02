package feed

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
)

// TestCommand: its output is taken; when it ends, how it ended and its last words are
// the trouble, and it is run again.
func TestCommand(t *testing.T) {
	t.Parallel()
	f := start(t, `run: echo 'flow 1 L/min'; echo 'no such probe' >&2; exit 3`)
	f.expect(1)
	f.until("trouble", func(r Report) bool {
		return r.Trouble == "the command has ended: exit status 3: no such probe"
	})
	f.until("second run", func(r Report) bool { return r.Channels[0].Readings == 2 })
}

// TestCommandEndsWithUs: all that the command started ends with the feed, even where it
// does not want to.
func TestCommandEndsWithUs(t *testing.T) {
	t.Parallel()
	pids := filepath.Join(t.TempDir(), "pids")
	ctx, stop := context.WithCancel(t.Context())
	s, err := New(ctx, fmt.Sprintf(`run: trap '' TERM; sleep 300 & echo $$ $! > %s; echo 'flow 1 L/min'; wait; sleep 300`, pids), Config{})
	if err != nil {
		t.Fatal(err)
	}
	follow{t, s}.expect(1)
	stop()
	<-s.Done()
	text, err := os.ReadFile(pids)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range strings.Fields(string(text)) {
		pid, _ := strconv.Atoi(p)
		follow{t, s}.until("end of "+p, func(Report) bool { return !alive(pid) })
	}
}

// alive says whether a process runs; one that has ended and waits to be counted does not.
func alive(pid int) bool {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return false
	}
	_, rest, _ := bytes.Cut(stat, []byte(") "))
	return len(rest) > 0 && rest[0] != 'Z'
}

// TestFIFO: writers that come, write a line and go, with and without a pause, one or two
// at a time.
func TestFIFO(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "fifo")
	if err := unix.Mkfifo(path, 0o600); err != nil {
		t.Fatal(err)
	}
	f := start(t, "file: "+path)
	for i := 1; i <= 3; i++ {
		w, err := os.OpenFile(path, os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(w, "flow %d L/min\n", i)
		f.expect(float64(i))
		w.Close()
	}
}

// TestSerial: a pseudo terminal stands for the port. Its other end closed is a port that
// was unplugged.
func TestSerial(t *testing.T) {
	t.Parallel()
	master, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Skip("no pseudo terminals here: ", err)
	}
	defer master.Close()
	if err := unix.IoctlSetPointerInt(int(master.Fd()), unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(int(master.Fd()), unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	f := start(t, fmt.Sprintf("serial: /dev/pts/%d 9600", n))
	f.until("reading", func(r Report) bool {
		fmt.Fprint(master, "flow 1 L/min\r\n")
		return len(r.Channels) == 1
	})
	fmt.Fprint(master, "flow 2 L/min\r\n")
	f.expect(2)
	master.Close()
	f.until("trouble", func(r Report) bool { return r.Trouble != "" })
}
