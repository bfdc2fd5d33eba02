package load

import (
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"soakline/collector/load/spec"
)

// where tells on which processors its thread may run.
type where struct{ set *atomic.Pointer[unix.CPUSet] }

func (w where) run() bool {
	var set unix.CPUSet
	if unix.SchedGetaffinity(0, &set) == nil {
		w.set.Store(&set)
	}
	time.Sleep(time.Millisecond)
	return true
}

func TestPinnedWorkersAreHeldToOneProcessorEach(t *testing.T) {
	cpus, err := processors()
	if err != nil || len(cpus) == 0 {
		t.Fatal(cpus, err)
	}
	var sets []*atomic.Pointer[unix.CPUSet]
	l := load("integer:all")
	l.Pinned = true
	c, err := newCrew(l, map[spec.Kind]func() kernel{spec.Integer: func() kernel {
		sets = append(sets, new(atomic.Pointer[unix.CPUSet]))
		return where{sets[len(sets)-1]}
	}}, func(Wrong) {})
	if err != nil {
		t.Fatal(err)
	}
	c.begin()
	for _, s := range sets {
		for s.Load() == nil {
			time.Sleep(time.Millisecond)
		}
	}
	c.end()
	if len(sets) != len(cpus) {
		t.Fatalf("%d workers on %d processors", len(sets), len(cpus))
	}
	for i, s := range sets {
		if set := s.Load(); set.Count() != 1 || !set.IsSet(cpus[i]) {
			t.Errorf("worker %d may run on %d processors, %d among them: %v", i, set.Count(), cpus[i], set.IsSet(cpus[i]))
		}
	}
	again, _ := processors()
	if !slices.Equal(cpus, again) {
		t.Error("the rest of the program is held to a processor as well")
	}
}
