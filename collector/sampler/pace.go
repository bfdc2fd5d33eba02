package sampler

import "time"

const (
	slowReads  = 3  // so many slow reads in a row make a fast group a slow one
	quickReads = 10 // so many quick ones in a row bring it back
	maxReturns = 3  // so often
)

// tooSlow moves a fast group whose reads keep taking too long to a goroutine of its own.
func (s *Sampler) tooSlow(g *group) {
	if g.took <= s.cfg.SlowRead {
		g.streak = 0
		return
	}
	if g.streak++; g.streak < slowReads {
		return
	}
	s.cfg.Log.Info("reads are slow; the group is read less often, beside the others",
		"source", g.from.name, "group", g.name, "took", g.took)
	g.ask = make(chan struct{}, 1)
	g.phase.Store(idle)
	s.slowDown(g)
	go g.work(g.ask, s.cfg.Clock, s.cfg.Log)
}

// leftBehind notes that a read of a fast group did not come back in time.
func (s *Sampler) leftBehind(g *group) {
	s.cfg.Log.Warn("a read did not come back; the group is read beside the others",
		"source", g.from.name, "group", g.name)
	s.slowDown(g)
	g.lost.Store(true)
}

func (s *Sampler) slowDown(g *group) {
	g.slow.Store(true)
	g.streak = 0
	g.pace = max(g.every, s.cfg.SlowPace)
}

// quickAgain brings a group back among the fast ones that was slow for a while only.
func (s *Sampler) quickAgain(g *group) bool {
	if g.always || g.returns >= maxReturns {
		return false
	}
	if g.took > s.cfg.SlowRead/2 {
		g.streak = 0
		return false
	}
	if g.streak++; g.streak < quickReads {
		return false
	}
	s.cfg.Log.Info("reads are quick again", "source", g.from.name, "group", g.name)
	g.returns++
	g.slow.Store(false)
	g.streak, g.pace = 0, g.every
	close(g.ask)
	return true
}

// start gives a new group its place.
func (s *Sampler) start(g *group, now time.Duration) {
	g.due, g.handed = now, now
	if g.always {
		g.slow.Store(true)
		if g.pace = g.every; g.pace == 0 {
			g.pace = s.cfg.SlowPace
		}
		g.ask = make(chan struct{}, 1)
		go g.work(g.ask, s.cfg.Clock, s.cfg.Log)
	}
}

// retire ends a group. Its reader is closed by whoever is reading it, else here, beside
// the ticks.
func (s *Sampler) retire(g *group) {
	g.retired.Store(true)
	if g.slow.Load() {
		close(g.ask)
		return
	}
	go g.close(s.cfg.Log)
}
