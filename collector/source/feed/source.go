package feed

import (
	"context"
	"fmt"
	"log/slog"
	"math"
	"sync"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Config says how a feed is taken. The zero value of a field takes the default beside it.
type Config struct {
	Name string // of the source: "feed"
	// Guess gives the role that a name and a quantity suggest, and its rank; without
	// it a channel has the role that its lines name.
	Guess func(name string, kind quantity.Kind) (telemetry.Role, int)
	Log   *slog.Logger  // silent
	Every time.Duration // how often a file is looked at, 200 ms
	Wait  time.Duration // how long the first Open waits for a reading, 2 s
}

func (cfg Config) filled() Config {
	if cfg.Name == "" {
		cfg.Name = "feed"
	}
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	if cfg.Every <= 0 {
		cfg.Every = 200 * time.Millisecond
	}
	if cfg.Wait <= 0 {
		cfg.Wait = 2 * time.Second
	}
	return cfg
}

// A reading stands for standing, or three intervals of its sender if that is longer.
const standing = 5 * time.Second

// maxChannels bounds what a feed run wild may do to a session.
const maxChannels = 64

// Source is one feed. It takes lines from its beginning until the context of New ends,
// open or not.
type Source struct {
	cfg     Config
	way     way
	base    time.Time
	changed chan struct{}
	first   chan struct{} // closed by the first reading
	done    chan struct{} // closed when nothing is taken any more

	mu       sync.Mutex
	channels []*channel
	byName   map[string]*channel
	hello    Hello
	offset   offset
	lines    uint64
	refusals []Refusal
	arrived  time.Time // the last reading
	silent   bool      // said so
	trouble  string    // why there is no contact
	marks    []note
	at       time.Duration // of the last Read,
	atTime   time.Time     // and when that was
}

type note struct {
	when time.Time
	text string
}

// New begins to take a feed. spec is one of Ways; ctx ends it.
func New(ctx context.Context, spec string, cfg Config) (*Source, error) {
	cfg = cfg.filled()
	w, err := parseWay(spec, cfg)
	if err != nil {
		return nil, err
	}
	s := newSource(cfg, w)
	if w.dial != nil {
		go s.run(ctx)
	} else {
		close(s.done)
	}
	return s, nil
}

func newSource(cfg Config, w way) *Source {
	return &Source{cfg: cfg, way: w, base: time.Now(), changed: make(chan struct{}, 1), first: make(chan struct{}), done: make(chan struct{}),
		byName: map[string]*channel{}, trouble: w.waiting}
}

// Name is "feed", or another one of several feeds.
func (s *Source) Name() string { return s.cfg.Name }

// Done is closed when the context of New has ended and with it whatever it started.
func (s *Source) Done() <-chan struct{} { return s.done }

// Changed has a value when there is a new channel or a line of a new kind was refused:
// Open gives more then.
func (s *Source) Changed() <-chan struct{} { return s.changed }

func (s *Source) change() {
	select {
	case s.changed <- struct{}{}:
	default:
	}
}

// Open offers the channels that were seen so far. The first time it waits a little for
// them, so that they are there when roles are given.
func (s *Source) Open(ctx context.Context) telemetry.Inventory {
	s.await(ctx)
	s.mu.Lock()
	defer s.mu.Unlock()
	select { // what changed up to now is offered
	case <-s.changed:
	default:
	}
	inv := telemetry.Inventory{Missing: s.missing()}
	if len(s.channels) == 0 {
		inv.Status, inv.Reason = telemetry.Failed, "no reading has come yet: "+s.trouble
		return inv
	}
	g := telemetry.Group{Name: s.way.title}
	for _, c := range s.channels {
		ch := c.Channel
		ch.Refresh = span(s.hello.Interval)
		g.Channels = append(g.Channels, ch)
	}
	g.Reader = &reader{source: s, seen: make([]uint64, len(g.Channels))}
	inv.Groups = []telemetry.Group{g}
	return inv
}

// await waits for the first reading and a moment more for those that come with it.
func (s *Source) await(ctx context.Context) {
	wait := s.cfg.Wait
	if s.Pushed() { // nobody can push before there is a session
		wait = 0
	}
	limit := time.NewTimer(wait)
	defer limit.Stop()
	select {
	case <-s.first:
	case <-ctx.Done():
		return
	case <-limit.C:
		return
	}
	for before := -1; ; {
		s.mu.Lock()
		n, fresh := len(s.channels), time.Since(s.base) < s.cfg.Wait
		s.mu.Unlock()
		if n == before || !fresh {
			return
		}
		before = n
		select {
		case <-ctx.Done():
			return
		case <-limit.C:
			return
		case <-time.After(s.cfg.Wait / 8):
		}
	}
}

// missing says what was refused, and that nothing came.
func (s *Source) missing() (list []telemetry.Missing) {
	if len(s.channels) == 0 {
		list = append(list, telemetry.Missing{Name: s.way.title, Source: s.cfg.Name, Reason: "no reading has come yet: " + s.trouble,
			Remedy: "'soakline feed check' shows what arrives."})
	}
	for _, r := range s.refusals {
		list = append(list, telemetry.Missing{Name: "a line of " + s.way.title, Source: s.cfg.Name, Reason: r.Reason,
			Remedy: "Mend the sender; 'soakline feed check' shows the lines."})
	}
	return list
}

// limit is how long a reading stands.
func (s *Source) limit() time.Duration {
	if s.hello.Stale > 0 {
		return span(s.hello.Stale)
	}
	return max(standing, span(3*s.hello.Interval))
}

// span is so many seconds, a day at most.
func span(seconds float64) time.Duration {
	return time.Duration(math.Min(seconds, 86400) * float64(time.Second))
}

// Marks tells when the feed went silent and came back, and what its clock did.
func (s *Source) Marks() (list []telemetry.Mark) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, n := range s.marks {
		at := s.at - s.atTime.Sub(n.when)
		list = append(list, telemetry.Mark{At: at.Seconds(), Kind: telemetry.MarkMachine, Text: n.text})
	}
	s.marks = nil
	return list
}

// mark keeps a note until it is asked for; a feed that is not read keeps few.
func (s *Source) mark(when time.Time, format string, args ...any) {
	if len(s.marks) < 100 {
		s.marks = append(s.marks, note{when, s.way.title + " " + fmt.Sprintf(format, args...)})
	}
}

// reader reads all channels that there were when it was made.
type reader struct {
	source *Source
	seen   []uint64
}

// Read gives the newest readings.
func (r *reader) Read(at time.Duration, out []telemetry.Reading) {
	s := r.source
	s.mu.Lock()
	defer s.mu.Unlock()
	now := time.Now()
	s.at, s.atTime = at, now
	limit := s.limit()
	for i := range out {
		out[i] = s.channels[i].reading(now, limit, &r.seen[i])
	}
	if !s.silent && now.Sub(s.arrived) > limit {
		s.silent = true
		s.mark(now, "went silent: nothing for %.0f s%s", now.Sub(s.arrived).Seconds(), because(s.trouble))
	}
}

func because(why string) string {
	if why == "" {
		return ""
	}
	return " (" + why + ")"
}

// Resumed forgets what was measured before this machine slept.
func (r *reader) Resumed() {
	s := r.source
	s.mu.Lock()
	defer s.mu.Unlock()
	s.restart()
}

// Close ends nothing: the feed goes on until its context ends.
func (r *reader) Close() error { return nil }
