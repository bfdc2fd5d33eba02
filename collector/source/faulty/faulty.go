package faulty

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Kind is a way to fail.
type Kind uint8

// The kinds.
const (
	Error     Kind = iota // a gap of Fault.State
	Rubbish               // Fault.Value, said to be measured
	Frozen                // the value from before, said to be measured anew each time
	Hang                  // the read does not come back before the fault is over
	Panic                 // the driver's code breaks
	Unplugged             // the device is gone, and comes back under another number
)

// Fault befalls the channel Key from one reading to another, on the clock that Read is
// given. To 0 is for good.
type Fault struct {
	Key      string
	From, To time.Duration
	Kind     Kind
	State    telemetry.State
	Value    float64
}

// at says whether the fault is there.
func (f *Fault) at(t time.Duration) bool { return t >= f.From && (f.To == 0 || t < f.To) }

// Source is another source that fails as planned.
type Source struct {
	inner   telemetry.Source
	plan    []Fault
	release chan struct{}

	mu    sync.Mutex
	now   time.Duration // of the newest reading
	opens int
}

// Wrap makes inner fail as planned.
func Wrap(inner telemetry.Source, plan ...Fault) *Source {
	return &Source{inner: inner, plan: plan, release: make(chan struct{})}
}

// Release lets all hanging reads go; for the end of a test, once.
func (s *Source) Release() { close(s.release) }

// Name is that of the source within.
func (s *Source) Name() string { return s.inner.Name() }

// Open leaves out what is unplugged at the moment. What comes back has another number,
// as the kernel gives one in the order of probing; its key stays.
func (s *Source) Open(ctx context.Context) telemetry.Inventory {
	inv := s.inner.Open(ctx)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.opens++
	var groups []telemetry.Group
	for _, g := range inv.Groups {
		if slices.ContainsFunc(g.Channels, func(c telemetry.Channel) bool { return s.active(c.Key, s.now, Unplugged) != nil }) {
			g.Reader.Close()
			continue
		}
		chs := slices.Clone(g.Channels)
		for i := range chs {
			chs[i].Device = fmt.Sprintf("%s, number %d", chs[i].Device, s.opens)
		}
		g.Reader = &reader{Reader: g.Reader, source: s, channels: chs, before: make([]telemetry.Reading, len(chs))}
		g.Channels = chs
		groups = append(groups, g)
	}
	inv.Groups = groups
	return inv
}

// Opens is how often the source was opened.
func (s *Source) Opens() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.opens
}

// active finds the fault of one of these kinds that a channel has at a time.
func (s *Source) active(key string, at time.Duration, kinds ...Kind) *Fault {
	for i := range s.plan {
		if f := &s.plan[i]; f.Key == key && f.at(at) && slices.Contains(kinds, f.Kind) {
			return f
		}
	}
	return nil
}

type reader struct {
	telemetry.Reader
	source   *Source
	channels []telemetry.Channel
	before   []telemetry.Reading
	dead     bool // was unplugged: this handle never works again
}

func (r *reader) Read(at time.Duration, out []telemetry.Reading) {
	s := r.source
	s.mu.Lock()
	s.now = max(s.now, at)
	s.mu.Unlock()
	r.Reader.Read(at, out)
	for i, c := range r.channels {
		r.dead = r.dead || s.active(c.Key, at, Unplugged) != nil
		f := s.active(c.Key, at, Error, Rubbish, Frozen, Hang, Panic)
		switch {
		case r.dead:
			out[i] = telemetry.Reading{Value: math.NaN(), State: telemetry.GapGone}
		case f == nil:
			r.before[i] = out[i]
		default:
			out[i] = s.fail(f, at, out[i], r.before[i])
		}
	}
}

// fail gives what a channel reads instead of now.
func (s *Source) fail(f *Fault, at time.Duration, now, before telemetry.Reading) telemetry.Reading {
	switch f.Kind {
	case Error:
		return telemetry.Reading{Value: math.NaN(), State: f.State}
	case Rubbish:
		return telemetry.Reading{Value: f.Value, State: telemetry.Fresh}
	case Frozen:
		return before
	case Panic:
		panic("the driver of " + f.Key + " is broken")
	}
	if f.To == 0 {
		<-s.release
		return now
	}
	over := time.NewTimer(f.To - at)
	defer over.Stop()
	select {
	case <-over.C:
	case <-s.release:
	}
	return now
}

// Board is a source of temperatures, each a device and a group of its own. A reading's
// value is the time of the read, s: who looks at it sees how late it was.
func Board(name string, keys ...string) telemetry.Source { return board{name, keys} }

type board struct {
	name string
	keys []string
}

func (b board) Name() string { return b.name }

func (b board) Open(context.Context) (inv telemetry.Inventory) {
	for _, k := range b.keys {
		inv.Groups = append(inv.Groups, telemetry.Group{Name: k, Reader: clockReader{}, Channels: []telemetry.Channel{
			{Key: k, Name: k, Quantity: quantity.Temperature, Source: b.name, Device: "board", Simulated: true}}})
	}
	return inv
}

type clockReader struct{}

func (clockReader) Read(at time.Duration, out []telemetry.Reading) {
	for i := range out {
		out[i] = telemetry.Reading{Value: at.Seconds(), State: telemetry.Fresh}
	}
}

func (clockReader) Close() error { return nil }
