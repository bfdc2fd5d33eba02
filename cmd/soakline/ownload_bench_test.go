package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"testing"
	"time"

	"soakline/collector/load"
	"soakline/collector/load/spec"
)

// BenchmarkWatchingCostsTheLoad runs soakline's own load on all processors with and
// without a soakline that records beside it, 20 samples a second, in the order A B B A,
// and gives what the load loses and what part of the machine the recording takes.
func BenchmarkWatchingCostsTheLoad(b *testing.B) {
	b.Setenv(asProgram, "1")
	l, err := spec.Parse("integer+floating-point+vector:all")
	if err != nil {
		b.Fatal(err)
	}
	const span = 3 * time.Second
	rate := func(watched bool) (units, share float64) {
		p, err := load.Start([]string{os.Args[0], ownLoadVerb}, l)
		if err != nil {
			b.Fatal(err)
		}
		defer func() { p.Stop(); <-p.Done() }()
		beats(p, 300*time.Millisecond)
		var recorder *exec.Cmd
		if watched {
			recorder = exec.Command(os.Args[0], "--data", filepath.Join(b.TempDir(), "s.db"), "record", "--period", "50ms", "--for", "1h")
			if err := recorder.Start(); err != nil {
				b.Fatal(err)
			}
			beats(p, time.Second) // its start is not what is measured
		}
		before := p.Work()
		beats(p, span)
		after := p.Work()
		if watched {
			recorder.Process.Signal(os.Interrupt)
			recorder.Wait()
			used := recorder.ProcessState.UserTime() + recorder.ProcessState.SystemTime()
			share = 100 * used.Seconds() / (span + time.Second).Seconds() / float64(runtime.NumCPU())
		}
		return float64(after.Done-before.Done) / (after.At - before.At).Seconds(), share
	}
	var lost, shares []float64
	for b.Loop() {
		a1, _ := rate(false)
		b1, s1 := rate(true)
		b2, s2 := rate(true)
		a2, _ := rate(false)
		lost = append(lost, 100*(1-(b1+b2)/(a1+a2)))
		shares = append(shares, s1, s2)
	}
	slices.Sort(lost)
	slices.Sort(shares)
	b.ReportMetric(lost[len(lost)/2], "%-of-the-load")
	b.ReportMetric(shares[len(shares)/2], "%-of-the-machine")
}

func beats(p *load.Process, d time.Duration) {
	for end := time.Now().Add(d); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		p.Beat()
	}
}
