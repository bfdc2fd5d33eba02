package sampler

import (
	"slices"
	"sync/atomic"
	"time"
)

// Cost is what the reads of one group took.
type Cost struct {
	Source, Group string
	Channels      int
	Keys          []string // of its channels
	Slow          bool     // read beside the ticks
	Reads         uint64
	Median, Max   time.Duration // median of the last 32 reads, maximum of all
	Hangs         bool          // a read has not come back
}

// cost gathers durations; one goroutine adds, any ask.
type cost struct {
	reads  atomic.Uint64
	worst  atomic.Int64
	recent [32]atomic.Int64
}

func (c *cost) add(d time.Duration) {
	n := c.reads.Load()
	c.recent[n%uint64(len(c.recent))].Store(int64(d))
	c.reads.Store(n + 1)
	if int64(d) > c.worst.Load() {
		c.worst.Store(int64(d))
	}
}

func (c *cost) median() time.Duration {
	n := min(c.reads.Load(), uint64(len(c.recent)))
	if n == 0 {
		return 0
	}
	d := make([]time.Duration, n)
	for i := range d {
		d[i] = time.Duration(c.recent[i].Load())
	}
	slices.Sort(d)
	return d[(n-1)/2]
}

// Costs gives what each group costs so far, on the sampler's clock; any goroutine may ask.
func (s *Sampler) Costs() []Cost {
	s.mu.Lock()
	defer s.mu.Unlock()
	list := make([]Cost, len(s.groups))
	for i, g := range s.groups {
		list[i] = s.costOf(g)
	}
	return list
}

func (s *Sampler) costOf(g *group) Cost {
	return Cost{Source: g.from.name, Group: g.name, Channels: len(g.columns), Keys: g.keys, Slow: g.slow.Load(),
		Reads: g.cost.reads.Load(), Median: g.cost.median(), Max: time.Duration(g.cost.worst.Load()), Hangs: g.lost.Load()}
}

// Measure reads every group n times and gives what that took in real time. It belongs
// between Open and Run. A group that takes longer than limit in all is given up: it Hangs.
func (s *Sampler) Measure(n int, limit time.Duration) []Cost {
	list := make([]Cost, len(s.groups))
	for i, g := range s.groups {
		list[i] = s.measure(g, n, limit)
	}
	return list
}

// measure reads g on a goroutine that becomes the group's own if it is given up.
func (s *Sampler) measure(g *group, n int, limit time.Duration) Cost {
	var over atomic.Bool // set by whoever comes first: the last read or the limit
	var c cost
	done, ask := make(chan struct{}), make(chan struct{}, 1)
	go func() {
		for range n {
			began := time.Now()
			g.read(s.cfg.Clock, s.cfg.Log)
			c.add(time.Since(began))
			if over.Load() {
				break
			}
		}
		if over.CompareAndSwap(false, true) {
			close(done)
			return
		}
		g.phase.Store(handedIn)
		g.work(ask, s.cfg.Clock, s.cfg.Log)
	}()
	timer := time.NewTimer(limit)
	defer timer.Stop()
	select {
	case <-done:
	case <-timer.C:
		if over.CompareAndSwap(false, true) {
			if g.ask != nil { // of the goroutine that waits for orders so far
				close(g.ask)
			}
			g.ask = ask
			g.phase.Store(reading)
			s.leftBehind(g)
		} else {
			<-done
		}
	}
	cost := s.costOf(g)
	cost.Reads, cost.Median, cost.Max = c.reads.Load(), c.median(), time.Duration(c.worst.Load())
	return cost
}
