//go:build amd64 || arm64

package libcall

import (
	"errors"
	"os"
	"strings"
	"testing"
	"time"
)

// start gives a child, or skips where the system has no C library of this kind.
func start(t testing.TB) *Process {
	t.Helper()
	if _, err := os.Stat(loader); err != nil {
		t.Skipf("no %s here", loader)
	}
	p, err := Start()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	return p
}

func function(t testing.TB, p *Process, name string) Func {
	t.Helper()
	lib, err := p.Open("libc.so.6")
	if err != nil {
		t.Fatal(err)
	}
	f, err := p.Symbol(lib, name)
	if err != nil || f == 0 {
		t.Fatalf("%s: %v, %v", name, f, err)
	}
	return f
}

// Functions of the C library do in the child what their standard says (ISO C 7.23, 7.24;
// POSIX getpid): six arguments arrive, pointers lead to the block, results come back.
func TestCallsOfTheCLibrary(t *testing.T) {
	p := start(t)
	length, format, self := function(t, p, "strlen"), function(t, p, "snprintf"), function(t, p, "getpid")
	p.Reset()
	text := p.Bytes(64)
	pattern, word := p.String("%ld-%s-%lx"), p.String("watts")
	minus, seven := int64(-7), uint64(0xfedcba9876543210)
	wrote := p.Call(format, text.At, 64, pattern.At, uint64(minus), word.At, seven)
	counted := p.Call(length, text.At)
	pid := p.Call(self)
	if err := p.Run(time.Second); err != nil {
		t.Fatal(err)
	}
	const want = "-7-watts-fedcba9876543210"
	got, _, _ := strings.Cut(string(text.Data), "\x00")
	if got != want || p.Result(wrote) != uint64(len(want)) || p.Result(counted) != uint64(len(want)) {
		t.Errorf("snprintf made %q (%d), strlen says %d", got, p.Result(wrote), p.Result(counted))
	}
	if int(p.Result(pid)) != p.cmd.Process.Pid || p.Result(pid) == uint64(os.Getpid()) {
		t.Errorf("getpid gave %d; the child is %d, this process %d", p.Result(pid), p.cmd.Process.Pid, os.Getpid())
	}
}

func TestUnknownNames(t *testing.T) {
	p := start(t)
	if _, err := p.Open("libno-such-thing.so.9"); err == nil || !strings.Contains(err.Error(), "libno-such-thing.so.9") {
		t.Errorf("a library that does not exist: %v", err)
	}
	lib, err := p.Open("libc.so.6")
	if err != nil {
		t.Fatal(err)
	}
	if f, err := p.Symbol(lib, "no_such_function"); f != 0 || err != nil {
		t.Errorf("a function that does not exist: %v, %v", f, err)
	}
}

// A call that hangs ends by its limit, one that crashes by an error; neither takes this
// process with it, and Close returns.
func TestHangAndCrash(t *testing.T) {
	p := start(t)
	pause := function(t, p, "pause")
	p.Reset()
	p.Call(pause)
	if err := p.Run(20 * time.Millisecond); !errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("a hanging call: %v", err)
	}
	if err := p.Close(); err != nil {
		t.Errorf("Close after a hang: %v", err)
	}
	p = start(t)
	p.Reset()
	p.Call(Func(1)) // no code there
	if err := p.Run(time.Second); err == nil {
		t.Error("a crashing call gave no error")
	}
}

// A child that works is counted while it lives and after its end, in the system's own
// ticks.
func TestCPUTime(t *testing.T) {
	p := start(t)
	before := CPUTime()
	length := function(t, p, "strlen")
	for deadline := time.Now().Add(5 * time.Second); CPUTime() < before+2*tick && time.Now().Before(deadline); {
		p.Reset()
		text := p.String(strings.Repeat("x", 2000))
		for range maxCalls {
			p.Call(length, text.At)
		}
		if err := p.Run(time.Second); err != nil {
			t.Fatal(err)
		}
	}
	living := CPUTime()
	if living < before+2*tick {
		t.Errorf("a busy child took %v", living-before)
	}
	p.Close()
	if after := CPUTime(); after < living-2*tick {
		t.Errorf("%v while it lived, %v after its end", living, after)
	}
}

func TestRunAllocatesNothing(t *testing.T) {
	p := start(t)
	self := function(t, p, "getpid")
	n := testing.AllocsPerRun(50, func() {
		p.Reset()
		p.Call(self, 1, 2, 3, 4, 5, 6)
		if p.Run(time.Second) != nil {
			t.Fatal("failed")
		}
	})
	if n != 0 {
		t.Errorf("%v allocations a Run", n)
	}
}

// BenchmarkRun is the way there and back, without a library's own work.
func BenchmarkRun(b *testing.B) {
	p := start(b)
	self := function(b, p, "getpid")
	for b.Loop() {
		p.Reset()
		p.Call(self)
		if err := p.Run(time.Second); err != nil {
			b.Fatal(err)
		}
	}
}
