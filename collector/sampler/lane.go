package sampler

import (
	"log/slog"
	"sync"
)

// lane reads fast groups one after the other on a goroutine of its own.
type lane struct {
	start, done chan struct{}

	mu    sync.Mutex
	batch []*group
	pos   int  // groups that are through
	left  bool // batch[pos] does not come back: the goroutine is its own from now on
}

func newLane(clock Clock, log *slog.Logger) *lane {
	l := &lane{start: make(chan struct{}, 1), done: make(chan struct{}, 1)}
	go l.run(clock, log)
	return l
}

// read begins a batch; done gets a value when all of it is through.
func (l *lane) read(batch []*group) {
	l.mu.Lock()
	l.batch, l.pos = batch, 0
	l.mu.Unlock()
	l.start <- struct{}{}
}

func (l *lane) run(clock Clock, log *slog.Logger) {
	for range l.start {
		for g := l.current(); g != nil; {
			g.read(clock, log)
			next, left := l.advance()
			if left {
				g.phase.Store(handedIn)
				g.work(g.ask, clock, log)
				return
			}
			g = next
		}
		l.done <- struct{}{}
	}
}

func (l *lane) current() *group {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.pos < len(l.batch) {
		return l.batch[l.pos]
	}
	return nil
}

func (l *lane) advance() (next *group, left bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.left {
		return nil, true
	}
	if l.pos++; l.pos < len(l.batch) {
		return l.batch[l.pos], false
	}
	return nil, false
}

// leave gives up on the group that the lane is stuck in: its goroutine becomes that
// group's own. It gives how many groups before it are through; stuck is nil where all
// came through after all.
func (l *lane) leave() (through int, stuck *group) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.pos == len(l.batch) {
		return l.pos, nil
	}
	l.left = true
	stuck = l.batch[l.pos]
	stuck.ask = make(chan struct{}, 1)
	stuck.phase.Store(reading)
	return l.pos, stuck
}
