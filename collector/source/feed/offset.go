package feed

import (
	"math"
	"time"
)

// offset estimates how far the sender's clock is from ours: the smallest difference
// between arrival and the sender's time over the last half to whole minute, which is
// that of the reading least held up on its way. It follows a clock that runs a little
// fast or slow.
type offset struct {
	now, before float64 // s, smallest of this half minute and of the one before
	since       time.Time
	begun       bool
}

const offsetSpan = 30 * time.Second

// add takes a reading stamped at s on the sender's clock and gives how much longer than
// the fastest one it was on its way, s. It is negative where the sender's clock went
// forward, by as much.
func (o *offset) add(s float64, arrived time.Time, ours float64) (delay float64) {
	d := ours - s
	if !o.begun {
		*o = offset{now: d, before: d, since: arrived, begun: true}
		return 0
	}
	delay = d - o.value()
	if arrived.Sub(o.since) > offsetSpan {
		o.before, o.now, o.since = o.now, d, arrived
	}
	o.now = math.Min(o.now, d)
	return delay
}

// value is ours minus theirs, s; NaN where nothing is known.
func (o *offset) value() float64 {
	if !o.begun {
		return math.NaN()
	}
	return math.Min(o.now, o.before)
}
