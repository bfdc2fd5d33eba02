package supply

import (
	"errors"
	"math"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

// Battery states as the kernel writes them (kernel: power_supply_sysfs.c); the number
// is the label's index.
var statuses = []string{"Unknown", "Charging", "Discharging", "Not charging", "Full"}

const (
	charging    = 1
	discharging = 2
	notCharging = 3
	full        = 4
)

// batteryReader reads a battery: power out of it, charge, voltage, status. Power and
// current are unsigned in ACPI, so the sign is the status's.
type batteryReader struct {
	status           labelReader
	power            *rawfs.File // µW, or nil
	current, voltage *rawfs.File // µA, µV
	capacity         *rawfs.File // %
}

// Channels of a battery's group, in this order.
const (
	outPower = iota
	outCapacity
	outVoltage
	outStatus
)

func (s *Source) openBattery(inv *telemetry.Inventory, id, steady string) {
	base := dir + "/" + id
	file := func(attr string) *rawfs.File {
		f, err := s.tree.Open(base + "/" + attr)
		if err != nil {
			return nil
		}
		return f
	}
	r := &batteryReader{power: file("power_now"), current: file("current_now"), voltage: file("voltage_now"),
		capacity: file("capacity"), status: labelReader{file: file("status"), labels: bytesOf(statuses)}}
	ch := func(key, title string, q quantity.Kind) telemetry.Channel {
		return telemetry.Channel{Key: name + "/" + steady + "/" + key, Name: id + " " + title, Quantity: q, Source: name, Device: "battery " + id, Refresh: every}
	}
	status := ch("status", "status", quantity.Label)
	status.Labels = statuses
	inv.Groups = append(inv.Groups, telemetry.Group{Name: id, Every: every, Slow: true, Reader: r,
		Channels: []telemetry.Channel{ch("power", "power out", quantity.Power), ch("capacity", "charge", quantity.Share),
			ch("voltage", "voltage", quantity.Potential), status}})
	if now := r.readStatus(); now.State.Usable() {
		inv.Conditions = append(inv.Conditions, telemetry.Setting{Key: "battery " + id, Value: statuses[int(now.Value)]})
	}
}

// Read implements telemetry.Reader.
func (r *batteryReader) Read(_ time.Duration, out []telemetry.Reading) {
	status := r.readStatus()
	voltage := number(r.voltage, 1e-6, 0, 1000)
	out[outStatus], out[outVoltage] = status, voltage
	out[outCapacity] = number(r.capacity, 1, 0, 100)
	flow := number(r.power, 1e-6, -1e5, 1e5)
	if r.power == nil {
		flow = number(r.current, 1e-6, -1e4, 1e4)
		if flow.State.Usable() && voltage.State.Usable() {
			flow.Value *= voltage.Value
		} else if flow.State.Usable() {
			flow = gauge.Gap(voltage.State)
		}
	}
	out[outPower] = signed(flow, status)
}

// signed makes power positive out of the battery and negative into it. Without a
// direction only nothing at all can be told.
func signed(flow, status telemetry.Reading) telemetry.Reading {
	if !flow.State.Usable() {
		return flow
	}
	if !status.State.Usable() {
		return gauge.Gap(status.State)
	}
	size := math.Abs(flow.Value)
	switch {
	case status.Value == discharging:
		flow.Value = size
	case status.Value == charging:
		flow.Value = -size
	case size == 0 && (status.Value == full || status.Value == notCharging):
		flow.Value = 0
	default:
		return gauge.Gap(telemetry.GapUnreadable)
	}
	return flow
}

func (r *batteryReader) readStatus() telemetry.Reading {
	if r.status.file == nil {
		return gauge.Gap(telemetry.GapEmpty)
	}
	return r.status.read()
}

func number(f *rawfs.File, scale, least, most float64) telemetry.Reading {
	if f == nil {
		return gauge.Gap(telemetry.GapEmpty)
	}
	a := gauge.Attr{File: f, Scale: scale, Min: least, Max: most}
	return a.Read()
}

// Close implements telemetry.Reader.
func (r *batteryReader) Close() error {
	return errors.Join(r.status.file.Close(), r.power.Close(), r.current.Close(), r.voltage.Close(), r.capacity.Close())
}
