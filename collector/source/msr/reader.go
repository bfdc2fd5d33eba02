package msr

import (
	"time"

	"soakline/collector/telemetry"
)

// itemKind says how a register's value becomes a reading.
type itemKind uint8

const (
	kindReasons itemKind = iota // status bits, with what the log bits saw since the last read
	kindStatus
	kindTemperature
	kindPower
	kindEnergy
	kindTime
	kindLong
	kindLongWindow
	kindShort
	kindShortWindow
	kindPeak
	kindTarget
)

// item is one channel of a group.
type item struct {
	register int64
	kind     itemKind
	last     uint64 // kindReasons, kindEnergy, kindTime: the last value
	seen     bool
	total    float64
	at       time.Duration
	held     telemetry.Reading // kindPower
}

// reader reads a group's registers; one that serves several items is read once.
type reader struct {
	file    registers
	now     func() time.Duration
	units   units
	highest float64 // the highest junction temperature, °C
	items   []item
}

// Bounds. mostPower: the largest packages sold are rated at about 500 W. leastSpan: the
// energy register is renewed about every 1 ms (SDM Vol. 3B, 14.9.3).
const (
	mostPower = 1000
	leastSpan = 10 * time.Millisecond
)

// Read implements telemetry.Reader.
func (r *reader) Read(_ time.Duration, out []telemetry.Reading) {
	var raw uint64
	var state telemetry.State
	var now time.Duration
	for i := range r.items {
		it := &r.items[i]
		if i == 0 || it.register != r.items[i-1].register {
			before := r.now()
			raw, state = r.file.read(it.register)
			now = before + (r.now()-before)/2
		}
		if state != telemetry.Fresh {
			it.seen = false
			out[i] = gap(state)
			continue
		}
		out[i] = r.reading(it, raw, now)
	}
}

func fresh(v float64) telemetry.Reading { return telemetry.Reading{Value: v, State: telemetry.Fresh} }

func (r *reader) reading(it *item, raw uint64, now time.Duration) telemetry.Reading {
	switch it.kind {
	case kindReasons:
		return it.reasons(raw)
	case kindStatus:
		return fresh(float64(raw & 0x415)) // the four status bits of thermalBits
	case kindTemperature:
		below, valid := decodeThermal(raw)
		if !valid {
			return gap(telemetry.GapNotReady)
		}
		return fresh(r.highest - below)
	case kindPower:
		return it.power(uint32(raw), r.units.joule, now)
	case kindEnergy:
		return it.count(uint32(raw), r.units.joule, now)
	case kindTime:
		return it.count(uint32(raw), r.units.second, now)
	case kindPeak:
		return fresh(float64(raw&0x1fff) * r.units.watt)
	case kindTarget:
		highest, offset := decodeTarget(raw)
		if highest < 20 {
			return gap(telemetry.GapImplausible)
		}
		return fresh(highest - offset)
	}
	return r.limit(it.kind, raw)
}

func (r *reader) limit(kind itemKind, raw uint64) telemetry.Reading {
	long, short, _ := decodeLimits(raw, r.units)
	l := long
	if kind == kindShort || kind == kindShortWindow {
		l = short
	}
	switch {
	case !l.enabled:
		return gap(telemetry.GapDisabled)
	case kind == kindLong || kind == kindShort:
		return fresh(l.watts)
	}
	return fresh(l.seconds)
}

// reasons gives the status bits and those whose log bit rose since the last read: a
// limiter that came and went between two reads. Log bits stay set until software clears
// them, which this program never does.
func (it *item) reasons(raw uint64) telemetry.Reading {
	log := raw >> 16 & 0xffff
	mask := raw & 0xffff
	if it.seen {
		mask |= log &^ it.last
	}
	it.last, it.seen = log, true
	return fresh(float64(mask))
}

// power is the difference quotient of a 32-bit energy counter.
func (it *item) power(raw uint32, unit float64, now time.Duration) telemetry.Reading {
	if !it.seen {
		it.seen, it.last, it.at, it.held = true, uint64(raw), now, gap(telemetry.NoData)
		return it.held
	}
	span := now - it.at
	if span < leastSpan {
		if it.held.State == telemetry.Fresh {
			it.held.State = telemetry.Held
		}
		return it.held
	}
	joules := float64(raw-uint32(it.last)) * unit
	it.held = fresh(joules / span.Seconds())
	if restarted(joules, unit, span) {
		it.held = gap(telemetry.GapCounter)
	}
	it.last, it.at = uint64(raw), now
	return it.held
}

// restarted is true where a counter cannot have made such a step, or could have wrapped
// unseen.
func restarted(joules, unit float64, span time.Duration) bool {
	most := mostPower * max(span, leastSpan).Seconds()
	return joules > most || unit*(1<<32) < most
}

// count sums a 32-bit counter up over its wraps.
func (it *item) count(raw uint32, unit float64, now time.Duration) telemetry.Reading {
	d, span := float64(raw-uint32(it.last))*unit, now-it.at
	first := !it.seen
	it.seen, it.last, it.at = true, uint64(raw), now
	switch {
	case first && it.total == 0:
		it.total = float64(raw) * unit
	case first, it.kind == kindEnergy && restarted(d, unit, span):
		return gap(telemetry.GapCounter)
	default:
		it.total += d
	}
	return fresh(it.total)
}

// Close implements telemetry.Reader.
func (r *reader) Close() error { return r.file.Close() }
