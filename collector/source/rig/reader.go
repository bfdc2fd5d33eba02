package rig

import (
	"math"
	"time"

	"soakline/collector/telemetry"
)

// reader reads the machine for one follower: powers, clocks and rates are means since
// its own last reading, as counters give them.
type reader struct {
	source  *Source
	started bool
	last    meters
	kept    [numChannels]telemetry.Reading
}

// Read fills out; readings of a tick that brought no step of the machine are held.
func (r *reader) Read(at time.Duration, out []telemetry.Reading) {
	s := r.source
	s.mu.Lock()
	defer s.mu.Unlock()
	moved := s.advance(at)
	if !r.started {
		r.started, moved, r.last = true, true, s.earlier[0]
		r.last.renewed = -1
	}
	for i := range r.kept {
		if r.kept[i].State == telemetry.Fresh {
			r.kept[i].State = telemetry.Held
		}
	}
	if moved {
		r.measure(s.machine)
	}
	copy(out, r.kept[:])
}

// Close ends nothing: the machine belongs to the source.
func (r *reader) Close() error { return nil }

func (r *reader) measure(m *machine) {
	now, was := &m.meters, &r.last
	fresh := func(i int, v float64) { r.kept[i] = telemetry.Reading{Value: v, State: telemetry.Fresh} }
	span := now.seconds - was.seconds
	fresh(chPower, (now.energyJ-was.energyJ)/span)
	fresh(chClock, (now.clock-was.clock)/span)
	fresh(chLoad, (now.busy-was.busy)/span)
	fresh(chThroughput, (now.work-was.work)/span)
	fresh(chEnergy, m.energyReading())
	fresh(chDie, m.dieReading())
	fresh(chHits, now.hits)
	for i := range Cores {
		fresh(firstCore+i, m.coreReading(i))
	}
	lim := &m.cfg.Limits
	fresh(chLong, lim.LongW)
	fresh(chShort, lim.ShortW)
	fresh(chWindow, lim.WindowS)
	fresh(chThermal, lim.ThermalC)
	r.slow(m, fresh)
	r.last = *now
}

// slow reads the sensors that renew once a second.
func (r *reader) slow(m *machine, fresh func(int, float64)) {
	if r.last.renewed == m.meters.renewed {
		return
	}
	fresh(chBoard, m.senses.boardC)
	fresh(chAmbient, m.senses.ambient)
	if m.hasFan() {
		fresh(chFan, m.senses.rpm)
	} else {
		r.kept[chFan] = telemetry.Reading{Value: math.NaN(), State: telemetry.GapDisabled}
	}
}
