// Package replay plays a recording as an ordinary source: the rows of a trace come at
// their own times, gaps as gaps. It owns the way from a time to a row; it must not know
// files (the trace comes loaded), the sampler, or speed: a faster replay is a faster
// clock of whoever reads.
package replay

import (
	"context"
	"fmt"
	"slices"
	"sort"
	"sync"
	"time"

	"soakline/collector/telemetry"
)

// Name is the source's name.
const Name = "replay"

// leadLimit is the most by which a row may come ahead of its time, see Source.row.
const leadLimit = 50 * time.Millisecond

// Source plays one trace. Its time begins with the first reading. It may be read from
// any goroutine; readers from several calls of Open follow the same time.
type Source struct {
	trace *telemetry.Trace
	step  time.Duration

	mu     sync.Mutex
	begun  bool
	origin time.Duration // Read's time at which the first row stands
	last   bool          // the last row was given
	over   bool          // ... and a reading came a step after it or later
}

// New makes a source of a trace, which must not change any more.
func New(tr *telemetry.Trace) *Source {
	return &Source{trace: tr, step: medianStep(tr.Time)}
}

// Name is "replay".
func (s *Source) Name() string { return Name }

// Length is the time from the first row to the last.
func (s *Source) Length() time.Duration {
	if len(s.trace.Time) == 0 {
		return 0
	}
	return span(s.trace.Time[len(s.trace.Time)-1] - s.trace.Time[0])
}

// StepS is the median time between two rows, s; 0 with fewer than two rows.
func (s *Source) StepS() float64 { return s.step.Seconds() }

// Done tells whether the recording is over at the time at of the reader's clock: its
// last row has stood for one step. Before the first reading it is not.
func (s *Source) Done(at time.Duration) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.begun && at-s.origin >= s.Length()+s.step
}

// Ended tells whether the last row was given and another reading asked for more, at
// least a step later. It is meant to be asked after each reading.
func (s *Source) Ended() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.over
}

// Open offers all channels of the trace as one group, and its setup.
func (s *Source) Open(context.Context) telemetry.Inventory {
	if len(s.trace.Time) == 0 || len(s.trace.Channels) == 0 {
		return telemetry.Inventory{Status: telemetry.NotHere,
			Reason: fmt.Sprintf("the trace has %d rows and %d channels, nothing to replay", len(s.trace.Time), len(s.trace.Channels))}
	}
	return telemetry.Inventory{
		Status:     telemetry.Running,
		Conditions: slices.Clone(s.trace.Setup),
		Groups: []telemetry.Group{{Name: Name, Channels: s.channels(),
			Reader: &reader{source: s, row: -1}}},
	}
}

// channels are those of the trace; what a source must have and the trace does not say is
// filled in.
func (s *Source) channels() []telemetry.Channel {
	chs := slices.Clone(s.trace.Channels)
	marked := slices.ContainsFunc(chs, func(c telemetry.Channel) bool { return c.Simulated })
	for i := range chs {
		c := &chs[i]
		c.Source = Name
		c.Simulated = c.Simulated || s.trace.Simulated && !marked
		if c.Key == "" {
			c.Key = fmt.Sprintf("column %d", i+1)
		}
		if c.Device == "" {
			c.Device = "recording"
		}
	}
	return chs
}

// row is the last row at or before the time at, and whether it still stands for that
// time: in a hole of more than ten steps and a second nothing was recorded; the last row
// stands once in any case. A tick a little ahead of its row, by half a step and 50 ms at
// most, gets that row, so that a reader whose ticks come as far apart as the rows sees
// every row once.
func (s *Source) row(at time.Duration) (i int, stands bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.begun {
		s.begun, s.origin = true, at
	}
	since, t := at-s.origin, s.trace.Time
	until := t[0] + (since + min(s.step/2, leadLimit)).Seconds() + 1e-6
	i = max(sort.Search(len(t), func(k int) bool { return t[k] > until })-1, 0)
	age := since - span(t[i]-t[0])
	stands = age <= max(10*s.step, time.Second)
	if i == len(t)-1 {
		stands = stands || !s.last
		s.over = s.last && age >= s.step*9/10
		s.last = true
	}
	return i, stands
}

func span(seconds float64) time.Duration { return time.Duration(seconds * float64(time.Second)) }

func medianStep(t []float64) time.Duration {
	if len(t) < 2 {
		return 0
	}
	steps := make([]float64, len(t)-1)
	for i := range steps {
		steps[i] = t[i+1] - t[i]
	}
	slices.Sort(steps)
	return span(steps[len(steps)/2])
}
