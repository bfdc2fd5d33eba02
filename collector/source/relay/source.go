package relay

import (
	"context"
	"log/slog"
	"math"
	"sync"
	"time"

	"soakline/collector/telemetry"
)

const name = "relay"

// Config says how a link is kept. The zero value of a field takes the default beside it.
type Config struct {
	Log *slog.Logger // silent
	// Patience is how long nothing may come before contact counts as lost, 3 s or
	// thirty rows, whichever is longer. What comes within it leaves no gap.
	Patience time.Duration
}

// Source is the link to one other computer.
type Source struct {
	cfg     Config
	address address
	items   chan item
	changed chan struct{}
	done    chan struct{}
	period  time.Duration
	link    link
	clock   Clock

	mu     sync.Mutex
	layout *layout
	given  map[string]bool // keys of conditions that were given out
	row    *item           // that the readers give; nil: none
	begun  bool            // there was a row
	marks  []telemetry.Mark
}

// item is what the link hands to the clock, in the order in which it came.
type item struct {
	layout *layout
	row    telemetry.Row
	isRow  bool
	mark   *mark
	text   string // of a mark of our own
}

// New makes contact with the soakline at url and follows it until ctx ends. It is an
// error if there is none now; later it is looked for again and again.
func New(ctx context.Context, url string, cfg Config) (*Source, error) {
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	at, err := parseAddress(url)
	if err != nil {
		return nil, err
	}
	s := newSource(cfg, at)
	l, err := s.fetchLayout(ctx)
	if err != nil {
		return nil, err
	}
	s.start(l)
	go s.run(ctx, l)
	return s, nil
}

func newSource(cfg Config, at address) *Source {
	s := &Source{cfg: cfg, address: at, items: make(chan item, 1024), changed: make(chan struct{}, 1), done: make(chan struct{}),
		given: map[string]bool{}}
	s.clock.source = s
	return s
}

// start takes the first layout.
func (s *Source) start(l *layout) {
	s.period, s.layout = l.period(), l
	if s.cfg.Patience <= 0 {
		s.cfg.Patience = max(3*time.Second, 30*s.period)
	}
}

// Name is "relay".
func (s *Source) Name() string { return name }

// Host is what the other computer calls itself.
func (s *Source) Host() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.layout.Session.Host
}

// Period is the time between two rows of the other computer: a sampler on Clock must
// have the same.
func (s *Source) Period() time.Duration { return s.period }

// Clock makes one tick of each row. It is for one sampler.
func (s *Source) Clock() *Clock { return &s.clock }

// Done is closed when the context of New has ended and nothing is read any more.
func (s *Source) Done() <-chan struct{} { return s.done }

// Changed has a value when the other's channels or conditions are others.
func (s *Source) Changed() <-chan struct{} { return s.changed }

// Open offers the channels that the other computer has now.
func (s *Source) Open(context.Context) telemetry.Inventory {
	s.mu.Lock()
	defer s.mu.Unlock()
	select {
	case <-s.changed:
	default:
	}
	l, host := s.layout, s.layout.Session.Host
	inv := telemetry.Inventory{Conditions: s.conditions()}
	for _, m := range l.Missing {
		inv.Missing = append(inv.Missing, telemetry.Missing{Name: m.Name, Source: name, Role: telemetry.Role(m.Role), Reason: m.Reason, Remedy: m.Remedy})
	}
	if len(l.Channels) == 0 {
		inv.Status, inv.Reason = telemetry.Failed, "the soakline on "+host+" has no channels"
		return inv
	}
	g := telemetry.Group{Name: host}
	r := &reader{source: s}
	for i := range l.Channels {
		g.Channels = append(g.Channels, l.Channels[i].telemetry(host))
		r.keys = append(r.keys, l.Channels[i].Key)
	}
	r.columns = make([]int, len(r.keys))
	g.Reader = r
	inv.Groups = []telemetry.Group{g}
	return inv
}

// conditions are the other's setup; those that are there no longer are emptied, which
// takes them out.
func (s *Source) conditions() []telemetry.Setting {
	l := s.layout
	list := []telemetry.Setting{{Key: "measured on", Value: l.Session.Host}, {Key: "session there", Value: l.Session.ID}}
	now := map[string]bool{}
	for _, kv := range l.Setup {
		list = append(list, telemetry.Setting(kv))
		now[kv.Key] = true
	}
	for key := range s.given {
		if !now[key] {
			list = append(list, telemetry.Setting{Key: key})
		}
	}
	s.given = now
	return list
}

// Marks gives the other's marks and those of lost contact.
func (s *Source) Marks() []telemetry.Mark {
	s.mu.Lock()
	defer s.mu.Unlock()
	list := s.marks
	s.marks = nil
	return list
}

// reader gives the columns of the row that the clock stands at.
type reader struct {
	source  *Source
	keys    []string
	columns []int
	of      *layout // that columns fits
}

// Read gives the row as it came: what was measured there is Fresh here.
func (r *reader) Read(_ time.Duration, out []telemetry.Reading) {
	s := r.source
	s.mu.Lock()
	defer s.mu.Unlock()
	gap := telemetry.NoData
	if s.begun {
		gap = telemetry.GapSilent
	}
	if s.row != nil && r.of != s.row.layout {
		r.fit(s.row.layout)
	}
	for i := range out {
		out[i] = telemetry.Reading{Value: math.NaN(), State: gap}
		if s.row == nil {
			continue
		}
		if c := r.columns[i]; c < 0 {
			out[i].State = telemetry.GapGone
		} else if row := &s.row.row; c < len(row.Values) {
			out[i] = telemetry.Reading{Value: row.Values[c], State: row.States[c]}
		}
	}
}

// fit finds the columns of another layout.
func (r *reader) fit(l *layout) {
	r.of = l
	at := map[string]int{}
	for i, c := range l.Channels {
		at[c.Key] = i + 1
	}
	for i, k := range r.keys {
		r.columns[i] = at[k] - 1
	}
}

// Resumed has nothing to forget: the other computer did not sleep.
func (r *reader) Resumed() {}

// Close ends nothing: the link is kept until its context ends.
func (r *reader) Close() error { return nil }
