package sampler

import (
	"context"
	"slices"
	"sync"
	"time"
)

// watch looks after a batch of fast groups. The driving goroutine reads them itself, so
// that a tick costs no switch of goroutines; where one does not come back in time, the
// watch's timer goroutine leaves that group to the old driver and drives on.
type watch struct {
	timer *time.Timer

	mu     sync.Mutex
	batch  []*group
	pos    int           // groups that are through
	left   bool          // batch[pos] does not come back
	span   time.Duration // for the batch
	until  time.Time     // the end of it
	graced bool          // it was given more time

	ctx context.Context
	at  tick
}

// begin starts the watch over a batch and gives its first group.
func (w *watch) begin(ctx context.Context, t tick, batch []*group, span time.Duration) *group {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.ctx, w.at, w.batch, w.pos, w.span, w.graced = ctx, t, batch, 0, span, false
	w.until = time.Now().Add(span)
	w.timer.Reset(span)
	return batch[0]
}

// advance notes that a group is through and gives the next one, nil after the last. left
// says that the watch has given this goroutine up.
func (w *watch) advance() (next *group, left bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.left {
		return nil, true
	}
	if w.pos++; w.pos < len(w.batch) {
		return w.batch[w.pos], false
	}
	w.timer.Stop()
	return nil, false
}

// leave gives up on the group that is being read: the goroutine in it becomes its own.
// It is nil where there is no reason to.
func (w *watch) leave() (stuck *group) {
	w.mu.Lock()
	defer w.mu.Unlock()
	late := time.Since(w.until)
	switch {
	case w.left || w.pos == len(w.batch) || late < 0: // a timer of an earlier batch
		return nil
	case late > w.span/2 && !w.graced:
		// The timer itself is far too late: not the reader but the program stood still.
		w.graced = true
		w.until = time.Now().Add(w.span / 2)
		w.timer.Reset(w.span / 2)
		return nil
	}
	w.left = true
	stuck = w.batch[w.pos]
	stuck.ask = make(chan struct{}, 1)
	stuck.phase.Store(reading)
	return stuck
}

// readFast reads a batch on this goroutine, for span at most, and finishes the tick.
func (s *Sampler) readFast(ctx context.Context, t tick, batch []*group, span time.Duration) verdict {
	if len(batch) == 0 {
		return s.finish(ctx, t)
	}
	if s.watch == nil {
		w := &watch{}
		w.timer = time.AfterFunc(time.Hour, func() { s.takeOver(w) })
		s.watch = w
	}
	w := s.watch
	for g := w.begin(ctx, t, batch, s.cfg.Clock.Allow(span)); g != nil; {
		g.read(s.cfg.Clock, s.cfg.Log)
		next, gone := w.advance()
		if gone {
			g.phase.Store(handedIn)
			g.work(g.ask, s.cfg.Clock, s.cfg.Log)
			return left
		}
		g = next
	}
	for _, g := range batch {
		g.collect()
		s.tooSlow(g)
	}
	return s.finish(ctx, t)
}

// othersFirst moves the groups of src behind those of the other sources: what hung for one
// group of a bus may hang for its neighbours.
func othersFirst(groups []*group, src *source) []*group {
	slices.SortStableFunc(groups, func(a, b *group) int {
		switch {
		case a.from != src && b.from == src:
			return -1
		case a.from == src && b.from != src:
			return 1
		}
		return 0
	})
	return groups
}

// takeOver goes on in the place of a driver that is held back: with the other groups of
// the batch while the tick lasts, then with the ticks to come.
func (s *Sampler) takeOver(w *watch) {
	stuck := w.leave()
	if stuck == nil {
		return
	}
	for _, g := range w.batch[:w.pos] {
		g.collect()
		s.tooSlow(g)
	}
	s.leftBehind(stuck)
	rest := othersFirst(w.batch[w.pos+1:], stuck.from)
	s.watch, s.batch = nil, nil
	if now, _ := s.cfg.Clock.Now(); now > w.at.now+s.cfg.Period*3/4 {
		rest = nil // the next tick is near
	}
	switch s.readFast(w.ctx, w.at, rest, s.cfg.Period/8) {
	case over:
		s.result <- nil
	case goOn:
		s.drive(w.ctx)
	}
}
