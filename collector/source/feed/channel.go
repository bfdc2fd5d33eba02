package feed

import (
	"math"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// channel is what a feed said of one name so far.
type channel struct {
	telemetry.Channel
	symbol string // the unit of its lines
	unit   quantity.Kind

	value    float64 // canonical; NaN in a gap
	state    telemetry.State
	measured time.Time // on our clock
	readings uint64    // taken
	good     float64   // the last value that was one, NaN before

	seq     uint64
	seqSeen bool
	at      float64 // s on the sender's clock, NaN where it gives none
	total   counter

	first, last          time.Time // of arrival
	lost, late, repeated uint64
	longest              float64 // s, the longest delay beyond the shortest
}

// How far back a reading is taken for one out of order; beyond, the sender began anew.
const (
	reorderSpan = 2 * time.Second
	reorderSeq  = 64
	mostLost    = 10000
)

// inOrder says whether a reading is newer than the last one, and counts what was lost
// between them. back is how far the sender's clock went back, where it did, s.
func (c *channel) inOrder(v *Value) (ok bool, back float64) {
	timed := !math.IsNaN(v.Time) && !math.IsNaN(c.at)
	if timed && v.Time <= c.at {
		if back = c.at - v.Time; back > reorderSpan.Seconds() {
			return true, back
		}
		if back == 0 && (!v.HasSeq || !c.seqSeen || v.Seq == c.seq) {
			c.repeated++
		} else if back > 0 {
			c.late++
		}
		if back > 0 || !v.HasSeq || !c.seqSeen || v.Seq <= c.seq {
			return false, 0
		}
	}
	if v.HasSeq && c.seqSeen {
		switch {
		case v.Seq > c.seq && v.Seq-c.seq <= mostLost:
			c.lost += v.Seq - c.seq - 1
		case v.Seq == c.seq:
			c.repeated++
			return false, 0
		case v.Seq < c.seq && c.seq-v.Seq <= reorderSeq && !timed:
			c.late++
			return false, 0
		}
	}
	return true, 0
}

// take makes v the channel's reading, measured at a time on our clock that is ours in s.
func (c *channel) take(v *Value, measured time.Time, ours float64) {
	c.seq, c.seqSeen, c.at = v.Seq, v.HasSeq, v.Time
	c.measured = measured
	c.readings++
	c.value, c.state = math.NaN(), v.State
	if v.State != telemetry.Fresh {
		return
	}
	x := v.Unit.Canonical(v.Raw)
	if !plausible(c.unit, c.Role, x, c.good) {
		c.state = telemetry.GapImplausible
		return
	}
	if v.Counter {
		at := v.Time
		if math.IsNaN(at) {
			at = ours
		}
		if x, c.state = c.total.step(x, at, v.Wrap*v.Unit.Scale(), c.unit); c.state != telemetry.Fresh {
			return
		}
		if !plausible(c.Quantity, c.Role, x, c.good) {
			c.state = telemetry.GapImplausible
			return
		}
	}
	c.value, c.good = x, x
}

// forget throws away what a restart of the sender or a sleep of this machine makes
// worthless: numbers, times, counters. The value is old from now on.
func (c *channel) forget() {
	c.seqSeen, c.at, c.total = false, math.NaN(), counter{}
	if c.state.Usable() {
		c.value, c.state = math.NaN(), telemetry.GapStale
	}
}

// reading is what stands at the time now: fresh where the reader has not seen it, stale
// where it is older than the limit.
func (c *channel) reading(now time.Time, limit time.Duration, seen *uint64) telemetry.Reading {
	r := telemetry.Reading{Value: c.value, State: c.state}
	if c.readings == 0 {
		return telemetry.Reading{Value: math.NaN(), State: telemetry.NoData}
	}
	if r.State == telemetry.Fresh && *seen == c.readings {
		r.State = telemetry.Held
	}
	*seen = c.readings
	if r.State.Usable() && now.Sub(c.measured) > limit {
		r = telemetry.Reading{Value: math.NaN(), State: telemetry.GapStale}
	}
	return r
}

// counter turns a number that only grows into what it means: energy into power, events
// into events since the first reading that stands for all before it.
type counter struct {
	begun    bool
	last, at float64
	carry    float64
}

// step takes the counter's next reading at a time in s. It gives GapCounter for the
// first reading of energy and where the counter went back without a wrap that is known.
func (k *counter) step(x, at, wrap float64, kind quantity.Kind) (float64, telemetry.State) {
	rise, span := x-k.last, at-k.at
	first := !k.begun
	if rise < 0 && wrap > 0 && k.last < wrap && x < wrap && rise < -wrap/2 {
		rise += wrap
		k.carry += wrap
	}
	k.begun, k.last, k.at = true, x, at
	if kind == quantity.Count {
		if !first && rise < 0 {
			k.carry = 0
			return math.NaN(), telemetry.GapCounter
		}
		return x + k.carry, telemetry.Fresh
	}
	if first || rise < 0 || !(span > 0) {
		return math.NaN(), telemetry.GapCounter
	}
	return rise / span, telemetry.Fresh
}
