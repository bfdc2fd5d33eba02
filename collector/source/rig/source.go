package rig

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"soakline/collector/telemetry"
)

// Name is the source's name.
const Name = "rig"

// leadIn is simulated ahead of the first reading, so that means over time exist from
// the start.
const leadIn = 100 * time.Millisecond

// longestPause is how much time between two readings is simulated; in a longer one
// (the computer slept, nobody asked) the simulated machine stands still.
const longestPause = time.Minute

// Source is the simulated machine. All methods may be called at any time from any
// goroutine; readers from several calls of Open see the same machine.
type Source struct {
	cfg Config

	mu       sync.Mutex
	selected int // index into cfg.Setups
	restart  bool
	share    float64       // of the time that it is asked to work, beside its own plan
	machine  *machine      // nil before the first reading
	origin   time.Duration // Read's time at which machine had taken no step
	earlier  [2]meters     // at the last two full 100 ms
}

// New makes a machine that starts, at rest, with the first reading.
func New(cfg Config) (*Source, error) {
	if err := cfg.check(); err != nil {
		return nil, err
	}
	s := &Source{cfg: cfg}
	return s, s.Select(cfg.Selected)
}

// Name is "rig".
func (s *Source) Name() string { return Name }

// Setups lists what Select takes.
func (s *Source) Setups() []Setup { return slices.Clone(s.cfg.Setups) }

// Selected is the setup that the machine has now.
func (s *Source) Selected() Setup {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.cfg.Setups[s.selected]
}

// Select puts the machine together in another way: it starts again from rest with the
// next reading, its counters go on. An unknown name is an error that lists the known
// ones. Open again to get the conditions that belong to it.
func (s *Source) Select(name string) error {
	known := make([]string, len(s.cfg.Setups))
	for i, u := range s.cfg.Setups {
		known[i] = u.Name
		if u.Name == name {
			s.mu.Lock()
			defer s.mu.Unlock()
			s.selected = i
			s.restart = true
			return nil
		}
	}
	return fmt.Errorf("rig: no setup is called %q; known are %s", name, strings.Join(known, ", "))
}

// SetLoad asks the machine to work for a share of the time, 0 to 1, from the next reading
// on, in slots of 10 ms. Its own plan of loads goes on beside it; a Config whose Plan has
// no load leaves it to SetLoad alone.
func (s *Source) SetLoad(share float64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.share = min(1, max(0, share))
}

// Open offers one group of channels and the conditions of the selected setup. It does
// not disturb the running machine.
func (s *Source) Open(context.Context) telemetry.Inventory {
	return telemetry.Inventory{
		Status:     telemetry.Running,
		Groups:     []telemetry.Group{{Name: Name, Channels: channels(), Reader: &reader{source: s}}},
		Conditions: append(slices.Clone(s.Selected().Conditions), s.cfg.Limits.conditions()...),
	}
}

// advance brings the machine to the instant at and tells whether it made a step. The
// caller holds mu.
func (s *Source) advance(at time.Duration) bool {
	if s.restart {
		var m meters
		if s.machine != nil {
			m = s.machine.meters
		}
		s.restart = false
		s.machine = newMachine(s.cfg, s.cfg.Setups[s.selected], m)
		s.origin = at - leadIn
		s.earlier = [2]meters{m, m}
	}
	m, per100 := s.machine, 10*s.machine.per10
	m.asked.share = s.share
	done := time.Duration(m.steps) * s.cfg.Step
	if pause := at - s.origin - done; pause > longestPause {
		s.origin += pause - longestPause
	}
	want := (at - s.origin) / s.cfg.Step
	if want <= time.Duration(m.steps) {
		return false
	}
	for m.steps < uint64(want) {
		if m.steps%per100 == 0 {
			s.earlier[0], s.earlier[1] = s.earlier[1], m.meters
		}
		m.step()
	}
	return true
}
