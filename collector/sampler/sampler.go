package sampler

import (
	"context"
	"math"
	"sync"
	"time"

	"soakline/collector/telemetry"
)

// Sampler reads sources and gives rows. Use: New, Open, then Measure or Run, once.
type Sampler struct {
	cfg     Config
	sources []*source
	opened  chan opened // of sources, whenever they come

	channels []telemetry.Channel
	columns  map[string]int // by key
	values   []float64
	states   []telemetry.State

	sink     Sink
	lane     *lane
	batch    []*group
	deadline time.Duration // of the next tick
	first    time.Duration // the first tick
	slept    time.Duration
	seq      uint64
	tally    tally

	mu     sync.Mutex // Run writes groups under it, others read under it
	groups []*group
}

// New makes a sampler of these sources; nothing is opened yet.
func New(cfg Config, sources []telemetry.Source) *Sampler {
	s := &Sampler{cfg: cfg.filled(), columns: map[string]int{}, opened: make(chan opened, len(sources))}
	for _, src := range sources {
		s.sources = append(s.sources, &source{src: src, name: src.Name(), status: telemetry.Failed, reason: "not opened yet"})
	}
	return s
}

// Run ticks until ctx ends (its error is given) or a source has come to its end (nil). It
// closes all readers but those that hang.
func (s *Sampler) Run(ctx context.Context, sink Sink) error {
	s.begin(sink)
	defer s.shut()
	for {
		if over, err := s.step(ctx); over || err != nil {
			return err
		}
	}
}

func (s *Sampler) begin(sink Sink) {
	s.sink = sink
	s.lane = newLane(s.cfg.Clock, s.cfg.Log)
	s.deadline, s.slept = s.cfg.Clock.Now()
}

// step waits for the next deadline and does what is due. Deadlines lie on a fixed grid: a
// late tick does not shift the later ones, and those that have passed are skipped.
func (s *Sampler) step(ctx context.Context) (over bool, err error) {
	if err := s.cfg.Clock.Sleep(ctx, s.deadline); err != nil {
		return true, err
	}
	now, slept := s.cfg.Clock.Now()
	skipped := (now - s.deadline) / s.cfg.Period
	deadline := s.deadline + skipped*s.cfg.Period
	s.deadline = deadline + s.cfg.Period
	if asleep := slept - s.slept; asleep > 0 {
		s.slept = slept
		s.woke(ctx, now, deadline, asleep)
		return false, nil
	}
	over = s.tick(ctx, now, deadline)
	s.stalled(now, int64(skipped))
	return over, nil
}

// tick reads what is due and publishes a row. over says that a source has ended.
func (s *Sampler) tick(ctx context.Context, now, deadline time.Duration) (over bool) {
	s.adopt()
	s.batch = s.batch[:0]
	for _, g := range s.groups {
		switch {
		case now < g.from.pause:
		case g.slow.Load():
			s.poll(g, now)
		case g.isDue(now, s.cfg.Period):
			s.batch = append(s.batch, g.hand())
		}
	}
	s.readFast(s.batch, now)
	for _, src := range s.sources {
		if e, ok := src.src.(Ender); ok && e.Ended() {
			return true
		}
	}
	for c := range s.values {
		s.values[c], s.states[c] = math.NaN(), telemetry.GapGone
	}
	for _, g := range s.groups {
		g.put(now, s.cfg.Period, s.values, s.states)
	}
	s.publish(now, deadline)
	s.lookForGone(ctx, now)
	return false
}

func (s *Sampler) publish(now, deadline time.Duration) {
	if s.seq == 0 {
		s.first = now
	}
	s.seq++
	s.tally.tick(now - deadline)
	s.sink.Publish(telemetry.Row{Seq: s.seq, At: (now - s.first).Seconds(), Lateness: now - deadline,
		Values: s.values, States: s.states})
}

// poll takes what a slow group has handed in and asks it again when it is due.
func (s *Sampler) poll(g *group, now time.Duration) {
	if g.phase.Load() == handedIn {
		g.phase.Store(idle)
		g.collect()
		if s.quickAgain(g) {
			return
		}
	}
	if g.phase.Load() == idle && g.isDue(now, s.cfg.Period) {
		g.hand().phase.Store(reading)
		g.ask <- struct{}{}
	}
}

// readFast reads a batch on the fast lane and waits half a period at most for it. A group
// that does not come back is left to itself and a new lane reads the rest.
func (s *Sampler) readFast(batch []*group, now time.Duration) {
	limit, end := now+s.cfg.Period/2, now+s.cfg.Period*7/8
	for len(batch) > 0 && limit <= end {
		s.lane.read(batch)
		through, stuck := len(batch), (*group)(nil)
		if !s.await(limit) {
			if through, stuck = s.lane.leave(); stuck == nil {
				<-s.lane.done
			}
		}
		for _, g := range batch[:through] {
			g.collect()
			s.tooSlow(g)
		}
		if stuck == nil {
			return
		}
		s.left(stuck)
		s.lane = newLane(s.cfg.Clock, s.cfg.Log)
		batch = batch[through+1:]
		t, _ := s.cfg.Clock.Now()
		limit = t + s.cfg.Period/8
	}
}

// await waits for the lane. Where the wait itself took far too long, not the reader but
// the whole program stood still, and the lane gets the time once more.
func (s *Sampler) await(limit time.Duration) bool {
	if s.cfg.Clock.Await(s.lane.done, limit) {
		return true
	}
	t, _ := s.cfg.Clock.Now()
	return t-limit > s.cfg.Period/4 && s.cfg.Clock.Await(s.lane.done, t+s.cfg.Period/4)
}
