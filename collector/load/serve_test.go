package load

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"soakline/collector/load/spec"
)

// TestMain is also the process of a load, so that tests run a real one.
func TestMain(m *testing.M) {
	if os.Getenv("SOAKLINE_TEST_LOAD") != "" {
		if err := Serve(os.Stdin, os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// start begins a real load.
func start(t testing.TB, l spec.Load) *Process {
	t.Helper()
	t.Setenv("SOAKLINE_TEST_LOAD", "1")
	p, err := Start([]string{os.Args[0]}, l)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Stop(); <-p.Done() })
	return p
}

func load(text string) spec.Load {
	l, err := spec.Parse(text)
	if err != nil {
		panic(err)
	}
	return l
}

// slow is a kernel that takes 1 ms of a made-up clock and is wrong when told to be.
type slow struct {
	units *atomic.Int64
	wrong func(unit int64) bool
}

func (s slow) run() bool {
	time.Sleep(time.Millisecond)
	n := s.units.Add(1)
	return s.wrong == nil || !s.wrong(n)
}

// talk runs serve over pipes within a bubble.
type talk struct {
	say   *io.PipeWriter
	lines chan string
	ended chan error
	units atomic.Int64
}

func newTalk(l spec.Load, wrong func(int64) bool) *talk {
	t := &talk{lines: make(chan string, 10000), ended: make(chan error, 1)}
	in, say := io.Pipe()
	out, hear := io.Pipe()
	t.say = say
	made := map[spec.Kind]func() kernel{spec.Integer: func() kernel { return slow{&t.units, wrong} }}
	go func() {
		defer close(t.lines)
		for sc := bufio.NewScanner(out); sc.Scan(); {
			t.lines <- sc.Text()
		}
	}()
	go func() {
		t.ended <- serve(in, hear, made)
		hear.Close()
	}()
	b, _ := json.Marshal(l)
	fmt.Fprintf(say, "%s\n", b)
	return t
}

// beats keeps the load alive for d.
func (t *talk) beats(d time.Duration) {
	for range d / (100 * time.Millisecond) {
		time.Sleep(100 * time.Millisecond)
		io.WriteString(t.say, "beat\n")
	}
}

func (t *talk) heard() (all []string) {
	for line := range t.lines {
		all = append(all, line)
	}
	return all
}

// The load has ended within the unit that it is at, here 1 ms, when its input ends.
func TestEndsWhenItsInputEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := load("integer:1")
		s := newTalk(l, nil)
		s.beats(3 * time.Second)
		asked := time.Now()
		s.say.Close()
		if err := <-s.ended; err != nil {
			t.Fatal(err)
		}
		if took := time.Since(asked); took > 2*time.Millisecond {
			t.Errorf("ended %v after it was asked to", took)
		}
		units := s.units.Load()
		time.Sleep(time.Second)
		if s.units.Load() != units {
			t.Error("it works on after its end")
		}
		heard := s.heard()
		last := heard[len(heard)-2:]
		if last[0] != fmt.Sprintf("done %d %d", units, 3*time.Second+time.Millisecond) && !strings.HasPrefix(last[0], fmt.Sprintf("done %d 3", units)) || last[1] != "end asked to" {
			t.Errorf("at last it said %q", last)
		}
	})
}

// In the idle part of a long cycle it ends at once as well.
func TestEndsInTheIdlePartOfACycle(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := load("integer:1")
		l.Share, l.Cycle = 0.1, time.Minute
		s := newTalk(l, nil)
		s.beats(30 * time.Second)
		asked := time.Now()
		s.say.Close()
		<-s.ended
		if took := time.Since(asked); took != 0 {
			t.Errorf("ended %v after it was asked to", took)
		}
		s.heard()
	})
}

func TestEndsWithoutASignOfLife(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newTalk(load("integer:1"), nil)
		s.beats(2 * time.Second)
		last := time.Now()
		<-s.ended
		s.say.Close()
		if took := time.Since(last); took < beatWithin || took > beatWithin+2*time.Millisecond {
			t.Errorf("ended %v after the last sign", took)
		}
		if heard := s.heard(); heard[len(heard)-1] != "end no sign of life for 1s" {
			t.Errorf("it said %q", heard[len(heard)-1])
		}
	})
}

// It works for the share of the time that it was asked for, also after a change.
func TestShare(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := load("integer:1")
		l.Share, l.Cycle = 0.25, 100*time.Millisecond
		s := newTalk(l, nil)
		s.beats(10 * time.Second)
		first := s.units.Load()
		io.WriteString(s.say, "share 0.75\n")
		s.beats(10 * time.Second)
		second := s.units.Load() - first
		s.say.Close()
		<-s.ended
		s.heard()
		if math.Abs(float64(first)-2500) > 30 || math.Abs(float64(second)-7500) > 30 {
			t.Errorf("%d and %d units of 1 ms in 10 s each, expected 2500 and 7500", first, second)
		}
	})
}

// A wrong result is told with worker, kind and time; many of them once a second, with
// their number.
func TestWrongResultsAreTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newTalk(load("integer:1"), func(unit int64) bool { return unit == 500 || unit > 3000 })
		s.beats(6 * time.Second)
		s.say.Close()
		<-s.ended
		p := &Process{}
		for _, line := range s.heard() {
			p.hear(line)
		}
		got, total := p.Wrongs()
		wrong := int(s.units.Load()) - 3000 + 1
		if total != wrong || len(got) < 3 || len(got) > 6 {
			t.Fatalf("%d wrong units told in %d reports, there were %d", total, len(got), wrong)
		}
		if w := got[0]; w.Worker != 0 || w.CPU != -1 || w.Kind != spec.Integer || w.Units != 1 || (w.At-500*time.Millisecond).Abs() > 2*time.Millisecond {
			t.Errorf("the first: %+v", w)
		}
		if again, _ := p.Wrongs(); again != nil {
			t.Error("told twice")
		}
	})
}

func TestWhatCannotBegin(t *testing.T) {
	for text, says := range map[string]string{
		"": "unexpected EOF", "{\n": "the load asked for", `{"kinds":["integer"],"share":1,"cycle":20000000,"cores":100000}` + "\n": "100000 processors",
		`{"kinds":[],"share":1,"cycle":20000000}` + "\n": "computes nothing", `{"kinds":["x"],"share":1,"cycle":20000000}` + "\n": "not known",
		`{"kinds":["integer"],"share":2,"cycle":20000000}` + "\n": "busy share", `{"kinds":["integer"],"share":1}` + "\n": "a cycle of",
	} {
		if err := Serve(strings.NewReader(text), io.Discard); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// A real process works, counts, and is gone after Stop.
func TestProcess(t *testing.T) {
	p := start(t, load("integer+memory:1"))
	for p.Work().Done == 0 {
		p.Beat()
		time.Sleep(5 * time.Millisecond)
	}
	if why, _ := p.Ended(); why != "" {
		t.Fatal(why)
	}
	p.Stop()
	p.Stop()
	<-p.Done()
	if why, fault := p.Ended(); why != "asked to" || fault {
		t.Errorf("%q, fault %v", why, fault)
	}
}

func TestABreakdownIsAFault(t *testing.T) {
	p := start(t, load("integer:1"))
	p.cmd.Process.Kill()
	<-p.Done()
	if why, fault := p.Ended(); !fault || !strings.Contains(why, "broke down") {
		t.Errorf("%q, fault %v", why, fault)
	}
	l := load("integer:1")
	l.Cores = 100000
	p = start(t, l)
	<-p.Done()
	if why, fault := p.Ended(); !fault || !strings.Contains(why, "100000 processors were asked for") {
		t.Errorf("%q, fault %v", why, fault)
	}
	if _, err := Start([]string{"/nothing/here"}, load("integer")); err == nil {
		t.Error("a program that is not there was started")
	}
}

// A load that does not answer is killed: a process that sleeps instead of serving.
func TestADeafLoadIsKilled(t *testing.T) {
	sleep, err := exec.LookPath("sleep")
	if err != nil {
		t.Skip("no sleep here")
	}
	p, err := Start([]string{sleep, "1000"}, load("integer"))
	if err != nil {
		t.Fatal(err)
	}
	p.Stop()
	<-p.Done()
}
