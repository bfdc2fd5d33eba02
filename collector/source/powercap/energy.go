package powercap

import (
	"errors"
	"math"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

const (
	// mostPower is more than any zone draws: what a counter's wrap is judged against.
	// Common practice, no source; the largest packages sold are rated at about 500 W.
	mostPower quantity.Watt = 1000
	// leastSpan is the shortest time between two reads that makes a power: the counter
	// is renewed about every 1 ms (Intel SDM Vol. 3B, 14.9.3), which makes 10 % of it.
	leastSpan = 10 * time.Millisecond
	// sleepSpan is how far the sampler's clock, which counts through suspend, may run
	// ahead of our own, which does not, before the machine must have slept.
	sleepSpan = 2 * time.Second
)

// counter turns readings of one energy counter into a total that only grows and a power.
type counter struct {
	file     *rawfs.File
	span     int64 // µJ until the counter starts again from 0
	mustFlow bool  // a package that draws nothing at all is a counter that stands still

	started  bool
	last     int64         // µJ
	lastRead time.Duration // own clock
	lastTick time.Duration // the sampler's clock
	total    float64       // J
	power    telemetry.Reading
}

// step takes a counter value read at now during tick at.
func (c *counter) step(raw int64, now, at time.Duration) (power, energy telemetry.Reading) {
	if !c.started {
		c.started, c.last, c.lastRead, c.lastTick = true, raw, now, at
		c.total = float64(raw) * 1e-6
		c.power = gauge.Gap(telemetry.NoData)
		return c.power, c.energy()
	}
	dt := now - c.lastRead
	if dt < leastSpan {
		if c.power.State == telemetry.Fresh {
			c.power.State = telemetry.Held
		}
		return c.power, c.energy()
	}
	slept := (at-c.lastTick)-dt > sleepSpan
	d := raw - c.last
	if d < 0 && c.span > 0 {
		d += c.span
	}
	watts := float64(quantity.Joule(float64(d) * 1e-6).Per(quantity.Second(dt.Seconds())))
	unseenWrap := c.span > 0 && quantity.Watt(float64(c.span)*1e-6/dt.Seconds()) < mostPower
	c.last, c.lastRead, c.lastTick = raw, now, at
	switch {
	case slept, d < 0, unseenWrap, quantity.Watt(watts) > mostPower:
		c.power = gauge.Gap(telemetry.GapCounter)
		return c.power, gauge.Gap(telemetry.GapCounter)
	case d == 0 && c.mustFlow:
		c.power = gauge.Gap(telemetry.GapImplausible)
	default:
		c.power = telemetry.Reading{Value: watts, State: telemetry.Fresh}
	}
	c.total += float64(d) * 1e-6
	return c.power, c.energy()
}

func (c *counter) energy() telemetry.Reading {
	return telemetry.Reading{Value: c.total, State: telemetry.Fresh}
}

// energyReader reads counters: out holds power and energy of each in turn.
type energyReader struct {
	now      func() time.Duration
	counters []counter
}

// Read implements telemetry.Reader.
func (r *energyReader) Read(at time.Duration, out []telemetry.Reading) {
	for i := range r.counters {
		c := &r.counters[i]
		before := r.now()
		raw, state := c.file.ReadInt()
		if state != telemetry.Fresh {
			out[2*i], out[2*i+1] = gauge.Gap(state), gauge.Gap(state)
			continue
		}
		now := before + (r.now()-before)/2
		out[2*i], out[2*i+1] = c.step(raw, now, at)
	}
}

// Close implements telemetry.Reader.
func (r *energyReader) Close() error {
	var errs []error
	for i := range r.counters {
		errs = append(errs, r.counters[i].file.Close())
	}
	return errors.Join(errs...)
}

// lowest is the lower of two readings, or the one that has a value.
func lowest(a, b telemetry.Reading) telemetry.Reading {
	switch {
	case !b.State.Usable():
		return a
	case !a.State.Usable():
		return b
	}
	return telemetry.Reading{Value: math.Min(a.Value, b.Value), State: telemetry.Fresh}
}
