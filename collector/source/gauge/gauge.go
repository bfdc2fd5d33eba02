// Package gauge reads groups of plain numeric attributes: one kept-open file a channel,
// a factor to the canonical unit, a plausible range, and gates such as a fault flag or
// a sleeping device that turn a reading into a gap.
//
// It knows nothing of any family of sensors; hwmon, powercap, cpufreq, throttle and
// supply say what the files mean.
package gauge

import (
	"bytes"
	"errors"
	"math"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/telemetry"
)

// Attr is one numeric attribute.
type Attr struct {
	File  *rawfs.File
	Scale float64 // canonical = raw*Scale; 0 counts as 1
	// Min and Max bound what can be true, in the canonical unit; both 0 is no bound.
	Min, Max float64
	// Gates are flags read with the value; a flag that stands at its Bad value makes
	// the reading GapDisabled.
	Gates []Gate
	// Die marks a junction sensor: exactly 0 °C beside a warm neighbour of the same
	// group is a fault, not a temperature.
	Die bool
}

// Gate is a flag beside an attribute: temp1_fault is bad at 1, temp1_enable at 0.
type Gate struct {
	File *rawfs.File
	Bad  int64
}

// Reader reads its attributes in order. It is a telemetry.Reader.
type Reader struct {
	Attrs []Attr
	// Awake, if any, is the device's power/runtime_status. Unless it says "active" or
	// "unsupported" nothing else is touched and every reading is GapAsleep.
	// (kernel: Documentation/ABI/testing/sysfs-devices-power)
	Awake *rawfs.File
}

var _ telemetry.Reader = (*Reader)(nil)

// warmNeighbour is the temperature from which a sensor beside a die at exactly 0 °C
// proves that die wrong: common practice, no source.
const warmNeighbour = 20

// Read implements telemetry.Reader.
func (r *Reader) Read(_ time.Duration, out []telemetry.Reading) {
	if !r.awake() {
		for i := range out {
			out[i] = telemetry.Reading{Value: math.NaN(), State: telemetry.GapAsleep}
		}
		return
	}
	for i := range r.Attrs {
		if a := &r.Attrs[i]; len(a.Gates) > 0 && a.off() {
			out[i].State = telemetry.GapDisabled
		} else {
			out[i].State = a.File.Fetch()
		}
	}
	hottest := math.Inf(-1)
	for i := range r.Attrs {
		out[i] = r.Attrs[i].value(out[i].State)
		if r.Attrs[i].Die && out[i].Value > hottest {
			hottest = out[i].Value
		}
	}
	if hottest < warmNeighbour {
		return
	}
	for i := range r.Attrs {
		if r.Attrs[i].Die && out[i].Value == 0 {
			out[i] = Gap(telemetry.GapImplausible)
		}
	}
}

func (r *Reader) awake() bool {
	if r.Awake == nil {
		return true
	}
	text, state := r.Awake.ReadText()
	return state == telemetry.Fresh && Active(text)
}

// Active is true for a runtime_status under which a device may be read.
func Active(status []byte) bool {
	return bytes.Equal(status, []byte("active")) || bytes.Equal(status, []byte("unsupported"))
}

// Read reads one attribute.
func (a *Attr) Read() telemetry.Reading {
	if len(a.Gates) > 0 && a.off() {
		return Gap(telemetry.GapDisabled)
	}
	return a.value(a.File.Fetch())
}

// off is true where a flag says that the value does not count.
func (a *Attr) off() bool {
	for _, g := range a.Gates {
		if v, state := g.File.ReadInt(); state == telemetry.Fresh && v == g.Bad {
			return true
		}
	}
	return false
}

// value makes a reading of what was fetched.
func (a *Attr) value(fetched telemetry.State) telemetry.Reading {
	if fetched != telemetry.Fresh {
		return Gap(fetched)
	}
	raw, state := a.File.Int()
	if state != telemetry.Fresh {
		return Gap(state)
	}
	v := float64(raw)
	if a.Scale != 0 {
		v *= a.Scale
	}
	if (a.Min != 0 || a.Max != 0) && (v < a.Min || v > a.Max) {
		return Gap(telemetry.GapImplausible)
	}
	return telemetry.Reading{Value: v, State: telemetry.Fresh}
}

// Gap is a reading without a value.
func Gap(s telemetry.State) telemetry.Reading {
	return telemetry.Reading{Value: math.NaN(), State: s}
}

// Close closes every file.
func (r *Reader) Close() error {
	errs := []error{r.Awake.Close()}
	for _, a := range r.Attrs {
		errs = append(errs, a.File.Close())
		for _, g := range a.Gates {
			errs = append(errs, g.File.Close())
		}
	}
	return errors.Join(errs...)
}
