package gauge

import (
	"time"

	"soakline/collector/telemetry"
)

// leastSpan is the shortest span over which a slow energy counter makes a power. The card
// looked at (testdata/traces) renews its counter every 100 ms, and a change is seen with
// the delay of one read: over half a second that is up to a fifth, which the next span
// gives back.
const leastSpan = 500 * time.Millisecond

// Difference turns an energy counter that is renewed more slowly than it is read into
// power: from one change of the counter to the next that is at least half a second
// later. The zero Difference has seen nothing.
type Difference struct {
	seen, started bool
	last          float64 // J, as last read
	from          float64 // J and time of the change at which the span began
	fromAt        time.Duration
	power         telemetry.Reading
}

// Step takes the counter in J, read at now; most is the most that can be true in W.
func (d *Difference) Step(joules float64, now time.Duration, most float64) telemetry.Reading {
	switch {
	case !d.seen:
		*d = Difference{seen: true, last: joules, power: Gap(telemetry.NoData)}
		return d.power
	case joules < d.last: // the counter began anew
		*d = Difference{seen: true, last: joules, power: Gap(telemetry.GapCounter)}
		return d.power
	case joules == d.last:
		return d.held(now)
	}
	d.last = joules
	if !d.started {
		d.started, d.from, d.fromAt = true, joules, now
		return d.power
	}
	span := now - d.fromAt
	if span < leastSpan {
		return d.held(now)
	}
	watts := (joules - d.from) / span.Seconds()
	d.from, d.fromAt = joules, now
	d.power = telemetry.Reading{Value: watts, State: telemetry.Fresh}
	if watts > most {
		d.power = Gap(telemetry.GapImplausible)
	}
	return d.power
}

// held repeats the last power, until the counter has stood still for too long.
func (d *Difference) held(now time.Duration) telemetry.Reading {
	if d.power.State.Usable() {
		if now-d.fromAt > 10*leastSpan {
			return Gap(telemetry.GapStale)
		}
		d.power.State = telemetry.Held
	}
	return d.power
}
