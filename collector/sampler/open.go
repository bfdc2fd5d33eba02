package sampler

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"soakline/collector/telemetry"
)

// source is a telemetry.Source at work.
type source struct {
	src     telemetry.Source
	name    string
	status  telemetry.Status
	reason  string
	missing []telemetry.Missing
	groups  []*group
	keys    []string // of all channels that it ever had

	gone    bool // a device is away
	renew   bool // take the next inventory whatever it holds
	opening bool
	pause   time.Duration // no read before that
	next    time.Duration // no look before that
	wait    time.Duration
}

type opened struct {
	from *source
	inv  telemetry.Inventory
}

// Found is what the sources gave at the start.
type Found struct {
	Channels   []telemetry.Channel
	Missing    []telemetry.Missing
	Conditions []telemetry.Setting
	Sources    []SourceStatus
}

// SourceStatus is how one source's start went.
type SourceStatus struct {
	Name     string
	Status   telemetry.Status
	Reason   string // why it is not running
	Channels int
}

// Open opens all sources side by side and resolves the roles. A source that takes longer
// than Config.OpenLimit is reported as failed and joins later. A role override that fits
// no channel is an error.
func (s *Sampler) Open(ctx context.Context) (Found, error) {
	for _, src := range s.sources {
		s.open(ctx, src)
	}
	limit := time.NewTimer(s.cfg.OpenLimit)
	defer limit.Stop()
	came := map[*source]telemetry.Inventory{}
	for len(came) < len(s.sources) {
		select {
		case o := <-s.opened:
			came[o.from] = o.inv
			continue
		case <-ctx.Done():
			return Found{}, ctx.Err()
		case <-limit.C:
		}
		break
	}
	var f Found
	for _, src := range s.sources {
		inv, ok := came[src]
		if !ok {
			src.renew = true
			src.reason = fmt.Sprintf("did not start within %v", s.cfg.OpenLimit)
			s.cfg.Log.Warn("a source is late", "source", src.name, "limit", s.cfg.OpenLimit)
			continue
		}
		s.channels = append(s.channels, s.take(src, inv)...)
		f.Conditions = append(f.Conditions, inv.Conditions...)
	}
	chs, err := telemetry.Resolve(s.channels, s.cfg.Roles)
	if err != nil {
		return Found{}, err
	}
	s.channels = chs
	f.Channels, f.Missing = slices.Clone(chs), s.missing()
	for _, src := range s.sources {
		f.Sources = append(f.Sources, SourceStatus{src.name, src.status, src.reason, len(src.keys)})
	}
	return f, nil
}

// open has a source look at what is there, beside the ticks.
func (s *Sampler) open(ctx context.Context, src *source) {
	src.opening = true
	go func() {
		inv := telemetry.Inventory{Status: telemetry.Failed}
		defer func() {
			if r := recover(); r != nil {
				s.cfg.Log.Error("opening a source panicked", "source", src.name, "panic", r)
				inv = telemetry.Inventory{Status: telemetry.Failed, Reason: fmt.Sprintf("it panicked: %v", r)}
			}
			s.opened <- opened{src, inv}
		}()
		inv = src.src.Open(ctx)
	}()
}

// take puts an inventory in the place of the source's earlier one. Channels find their
// columns by their keys; new ones get columns at the end and are given back.
func (s *Sampler) take(src *source, inv telemetry.Inventory) (added []telemetry.Channel) {
	now, _ := s.cfg.Clock.Now()
	src.opening, src.renew, src.gone, src.pause = false, false, false, 0
	src.status, src.reason, src.missing = inv.Status, inv.Reason, inv.Missing
	before := src.held()
	for _, g := range src.groups {
		s.retire(g)
	}
	src.groups = nil
	seen := map[string]bool{}
	for _, tg := range inv.Groups {
		g := &group{name: tg.Name, from: src, reader: tg.Reader, every: tg.Every, pace: tg.Every, always: tg.Slow,
			buf: make([]telemetry.Reading, len(tg.Channels)), last: make([]telemetry.Reading, len(tg.Channels))}
		for i, c := range tg.Channels {
			g.last[i] = before(c.Key)
			col, known := s.columns[c.Key]
			switch {
			case seen[c.Key] || known && !slices.Contains(src.keys, c.Key):
				s.cfg.Log.Warn("two channels have one key; the later one is left out", "key", c.Key, "source", src.name)
				col = -1
			case !known:
				col = len(s.values)
				s.columns[c.Key] = col
				s.values, s.states = append(s.values, math.NaN()), append(s.states, telemetry.NoData)
				src.keys = append(src.keys, c.Key)
				added = append(added, c)
			}
			seen[c.Key] = true
			g.keys, g.columns = append(g.keys, c.Key), append(g.columns, col)
		}
		s.start(g, now)
		src.groups = append(src.groups, g)
	}
	for _, k := range src.keys {
		src.gone = src.gone || !seen[k]
	}
	s.regroup()
	return added
}

// held gives the last reading of a key, so that a channel whose source is opened anew for
// the sake of another one keeps it until it is read; without one it is no data.
func (src *source) held() func(key string) telemetry.Reading {
	last := map[string]telemetry.Reading{}
	for _, g := range src.groups {
		for i, r := range g.last {
			if r.State.Usable() {
				last[g.keys[i]] = telemetry.Reading{Value: r.Value, State: telemetry.Held}
			}
		}
	}
	return func(key string) telemetry.Reading {
		if r, ok := last[key]; ok {
			return r
		}
		return telemetry.Reading{Value: math.NaN()}
	}
}

// regroup lists the groups of all sources anew.
func (s *Sampler) regroup() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.groups = nil
	for _, src := range s.sources {
		s.groups = append(s.groups, src.groups...)
	}
	s.batch = make([]*group, 0, len(s.groups))
}

func (s *Sampler) missing() (all []telemetry.Missing) {
	for _, src := range s.sources {
		all = append(all, src.missing...)
	}
	return all
}

// Close closes the readers of a sampler that was opened and is not run.
func (s *Sampler) Close() {
	for _, g := range s.groups {
		s.retire(g)
	}
}

// shut closes the readers; those that hang are left to the system.
func (s *Sampler) shut() {
	done := make(chan struct{})
	go func() {
		defer close(done)
		for _, g := range s.groups {
			if g.slow.Load() {
				s.retire(g)
			} else {
				g.close(s.cfg.Log)
			}
		}
	}()
	limit := time.NewTimer(time.Second)
	defer limit.Stop()
	select {
	case <-done:
	case <-limit.C:
		s.cfg.Log.Warn("closing the sensors takes too long; they are left to the system")
	}
}
