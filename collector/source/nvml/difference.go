package nvml

import (
	"time"

	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

// leastSpan is the shortest span over which the energy counter makes a power. The card
// looked at (testdata/traces) renews it every 100 ms, and a change is seen with the delay
// of one read: over half a second that is up to a fifth, which the next span gives back.
const leastSpan = 500 * time.Millisecond

// difference turns an energy counter that is renewed more slowly than it is read into
// power: from one change of the counter to the next that is at least leastSpan later.
type difference struct {
	seen, started bool
	last          float64 // J, as last read
	from          float64 // J and time of the change at which the span began
	fromAt        time.Duration
	power         telemetry.Reading
}

// step takes the counter in J, read at now; most is the most that can be true in W.
func (d *difference) step(joules float64, now time.Duration, most float64) telemetry.Reading {
	switch {
	case !d.seen:
		*d = difference{seen: true, last: joules, power: gauge.Gap(telemetry.NoData)}
		return d.power
	case joules < d.last: // the driver was loaded anew
		*d = difference{seen: true, last: joules, power: gauge.Gap(telemetry.GapCounter)}
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
		d.power = gauge.Gap(telemetry.GapImplausible)
	}
	return d.power
}

// held repeats the last power, until the counter has stood still for too long.
func (d *difference) held(now time.Duration) telemetry.Reading {
	if d.power.State == telemetry.Fresh || d.power.State == telemetry.Held {
		if now-d.fromAt > 10*leastSpan {
			return gauge.Gap(telemetry.GapStale)
		}
		d.power.State = telemetry.Held
	}
	return d.power
}
