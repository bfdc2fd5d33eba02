package load

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"soakline/collector/load/spec"
)

// crew is the workers of one load.
type crew struct {
	workers []*worker
	share   atomic.Uint64
	stop    chan struct{}
	once    sync.Once
	group   sync.WaitGroup
	failed  chan error // of a worker that could not begin
}

// newCrew gets everything ready, the memory filled; nothing works yet.
func newCrew(l spec.Load, made map[spec.Kind]func() kernel, wrong func(Wrong)) (*crew, error) {
	if err := l.Check(); err != nil {
		return nil, err
	}
	cpus, err := processors()
	if err != nil {
		return nil, err
	}
	n := l.Cores
	switch {
	case n == 0:
		n = len(cpus)
	case n > len(cpus):
		return nil, fmt.Errorf("%d processors were asked for; this program may use %d", n, len(cpus))
	}
	if l.Pinned && !canPin {
		return nil, fmt.Errorf("holding work to a processor is not possible on %s; leave 'pinned' out", runtime.GOOS)
	}
	c := &crew{stop: make(chan struct{}), failed: make(chan error, n)}
	c.setShare(l.Share)
	for i := range n {
		w := &worker{number: i, cpu: -1, kinds: l.Kinds, share: &c.share, cycle: l.Cycle, wrong: wrong}
		if l.Pinned {
			w.cpu = cpus[i]
		}
		for _, k := range l.Kinds {
			w.kernels = append(w.kernels, made[k]())
		}
		c.workers = append(c.workers, w)
	}
	return c, nil
}

// begin sets the workers to work, on threads beside those that the rest of the program
// needs.
func (c *crew) begin() {
	if need := len(c.workers) + 2; runtime.GOMAXPROCS(0) < need {
		runtime.GOMAXPROCS(need)
	}
	begun := time.Now()
	for _, w := range c.workers {
		w.begun = begun
		c.group.Go(func() {
			if err := w.run(c.stop); err != nil {
				c.failed <- err
			}
		})
	}
}

func (c *crew) setShare(s float64) { c.share.Store(math.Float64bits(s)) }

// done is how many units of work all workers have done.
func (c *crew) done() (sum uint64) {
	for _, w := range c.workers {
		sum += w.done.Load()
	}
	return sum
}

// end stops the workers and waits for them: for the unit that each is at.
func (c *crew) end() {
	c.once.Do(func() { close(c.stop) })
	c.group.Wait()
}
