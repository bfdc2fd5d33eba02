// Package workdone is the throughput of soakline's own load as an ordinary channel: units
// of work a second, beside clock and power.
//
// It reads a counter that whoever runs the load gives it, and knows neither the load nor
// how it is started. While no load of soakline's own runs there is nothing to count and
// the channel is a gap, not 0.
package workdone

import (
	"context"
	"math"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Name is the source's name.
const Name = "own load"

// Work is how far a load has come.
type Work struct {
	Load uint64        // which load it is: another number, and counting begins anew; 0 is none
	Done uint64        // units since it began
	At   time.Duration // when they were counted, by the load's own clock
}

// Source offers the channel.
type Source struct {
	name  string
	count func() Work
}

// New makes a source that reads count, which may be called by any goroutine and returns at
// once. work says what is computed: "vector".
func New(work string, count func() Work) *Source { return &Source{work, count} }

// Name is "own load".
func (s *Source) Name() string { return Name }

// Open offers the one channel.
func (s *Source) Open(context.Context) telemetry.Inventory {
	return telemetry.Inventory{Status: telemetry.Running, Groups: []telemetry.Group{{
		Name: Name, Reader: &reader{count: s.count},
		Channels: []telemetry.Channel{{Key: "own-load/throughput", Name: "work done, " + s.name, Quantity: quantity.Rate,
			Role: telemetry.RoleThroughput, Rank: 100, Source: Name, Device: "soakline's own load"}},
	}}}
}

// reader gives the rate between the newest counts of two reads.
type reader struct {
	count func() Work
	last  Work
	rate  telemetry.Reading
}

func (r *reader) Read(_ time.Duration, out []telemetry.Reading) {
	w := r.count()
	switch {
	case w.Load == 0:
		r.rate = telemetry.Reading{Value: math.NaN(), State: telemetry.GapDisabled}
	case w.Load != r.last.Load || w.Done < r.last.Done || w.At < r.last.At:
		r.rate = telemetry.Reading{Value: math.NaN(), State: telemetry.GapNotReady}
		w.Done, w.At = 0, 0 // a load counts from its start
	case w.At == r.last.At:
		if r.rate.State == telemetry.Fresh {
			r.rate.State = telemetry.Held
		}
	default:
		r.rate = telemetry.Reading{Value: float64(w.Done-r.last.Done) / (w.At - r.last.At).Seconds(), State: telemetry.Fresh}
	}
	r.last = w
	out[0] = r.rate
}

func (r *reader) Close() error { return nil }
