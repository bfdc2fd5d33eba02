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
	result   chan error // of Run
	watch    *watch     // over the fast groups
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
	go s.drive(ctx)
	return <-s.result
}

func (s *Sampler) begin(sink Sink) {
	s.sink, s.result = sink, make(chan error, 1)
	s.deadline, s.slept = s.cfg.Clock.Now()
}

// verdict is how a step ended.
type verdict uint8

const (
	goOn verdict = iota
	over
	left // another goroutine drives now; nothing of the sampler may be touched
)

// drive steps until it is over, or until a reader holds this goroutine back for so long
// that another one takes its place.
func (s *Sampler) drive(ctx context.Context) {
	for {
		switch v, err := s.step(ctx); v {
		case over:
			s.result <- err
			return
		case left:
			return
		}
	}
}

// step waits for the next deadline and does what is due. Deadlines lie on a fixed grid: a
// late tick does not shift the later ones, and those that have passed are skipped.
func (s *Sampler) step(ctx context.Context) (verdict, error) {
	if err := s.cfg.Clock.Sleep(ctx, s.deadline); err != nil {
		return over, err
	}
	now, slept := s.cfg.Clock.Now()
	skipped := (now - s.deadline) / s.cfg.Period
	deadline := s.deadline + skipped*s.cfg.Period
	s.deadline = deadline + s.cfg.Period
	if asleep := slept - s.slept; asleep > 0 {
		s.slept = slept
		s.woke(ctx, now, deadline, asleep)
		return goOn, nil
	}
	return s.read(ctx, tick{now, deadline, int64(skipped)}), nil
}

// tick is one instant at which the sensors are read.
type tick struct {
	now, deadline time.Duration
	skipped       int64 // ticks before it
}

// read asks the slow groups that are due and reads the fast ones.
func (s *Sampler) read(ctx context.Context, t tick) verdict {
	s.adopt()
	s.batch = s.batch[:0]
	for _, g := range s.groups {
		switch {
		case t.now < g.from.pause:
		case g.slow.Load():
			s.poll(g, t.now)
		case g.isDue(t.now, s.cfg.Period):
			s.batch = append(s.batch, g.hand())
		}
	}
	return s.readFast(ctx, t, s.batch, s.cfg.Period/2)
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

// finish makes the row of a tick from what all groups have given.
func (s *Sampler) finish(ctx context.Context, t tick) verdict {
	for _, src := range s.sources {
		if e, ok := src.src.(Ender); ok && e.Ended() {
			return over
		}
	}
	for c := range s.values {
		s.values[c], s.states[c] = math.NaN(), telemetry.GapGone
	}
	for _, g := range s.groups {
		g.put(t.now, s.cfg.Period, s.values, s.states)
	}
	s.publish(t.now, t.deadline)
	s.takeMarks()
	s.lookForGone(ctx, t.now)
	s.stalled(t.now, t.skipped)
	return goOn
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
