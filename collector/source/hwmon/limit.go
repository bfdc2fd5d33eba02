package hwmon

import (
	"fmt"
	"math"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

// limitEvery is how often a thermal limit is read anew: firmware may move it mid-run.
const limitEvery = 10 * time.Second

// offsetFile lowers the temperature at which an Intel processor holds back below the
// bare maximum that coretemp calls critical (kernel:
// Documentation/driver-api/thermal/intel_dptf.rst). Readable without root.
const offsetFile = "sys/bus/pci/devices/0000:00:04.0/tcc_offset_degree_celsius"

// openLimits adds the critical temperature of a die sensor as a channel, and that of
// any other sensor as a condition. Limits that a driver decodes from an unset register
// (65261.85 °C is 0xFFFF K, -273.15 °C is 0 K) are dropped, as are cores' limits, which
// repeat the package's.
func (c *chip) openLimits(inv *telemetry.Inventory, g telemetry.Group) {
	for _, a := range c.found {
		ch := c.channelOf(g, a)
		if ch == nil {
			continue
		}
		file := c.dir + "/" + a.base() + "_crit"
		if a.kind != "temp" || !c.files[a.base()+"_crit"] || ch.Role == telemetry.RoleCore {
			continue
		}
		raw, err := c.tree.Int(file)
		limit := float64(raw) / 1000
		if err != nil || limit <= 0 || limit > 200 {
			continue
		}
		if ch.Role == telemetry.RoleDie {
			c.openThermalLimit(inv, *ch, file)
			continue
		}
		inv.Conditions = append(inv.Conditions, telemetry.Setting{
			Key: "critical temperature, " + ch.Name, Value: fmt.Sprintf("%.6g °C", limit)})
	}
}

// channelOf finds an attribute's channel in the chip's group; nil if it did not open.
func (c *chip) channelOf(g telemetry.Group, a attribute) *telemetry.Channel {
	key := join(name, c.id, steadyName(c.name), a.channel())
	for i := range g.Channels {
		k := g.Channels[i].Key
		if k == key || len(k) > len(key) && k[:len(key)] == key && k[len(key)] == ':' {
			return &g.Channels[i]
		}
	}
	return nil
}

func (c *chip) openThermalLimit(inv *telemetry.Inventory, die telemetry.Channel, file string) {
	f, err := c.tree.Open(file)
	if err != nil {
		return
	}
	r := &limitReader{critical: gauge.Attr{File: f, Scale: 1e-3, Min: 1, Max: 200}}
	if c.name == "coretemp" {
		r.offset, _ = c.tree.Open(offsetFile)
	}
	inv.Groups = append(inv.Groups, telemetry.Group{
		Name: die.Name + " limit", Every: limitEvery, Slow: true, Reader: r,
		Channels: []telemetry.Channel{{Key: die.Key + "/limit", Name: die.Name + " limit", Quantity: quantity.Temperature,
			Role: telemetry.RoleThermalLimit, Rank: die.Rank, Source: name, Device: die.Device}},
	})
}

// limitReader reads the critical temperature less the offset that firmware or the owner
// has set, where the machine states one.
type limitReader struct {
	critical gauge.Attr
	offset   *rawfs.File
}

func (r *limitReader) Read(_ time.Duration, out []telemetry.Reading) {
	out[0] = r.critical.Read()
	if r.offset == nil || !out[0].State.Usable() {
		return
	}
	if k, state := r.offset.ReadInt(); state == telemetry.Fresh && k >= 0 && k <= 63 { // six bits, MSR 0x1A2
		out[0].Value = math.Max(0, out[0].Value-float64(k))
	}
}

func (r *limitReader) Close() error {
	err := r.critical.File.Close()
	if e := r.offset.Close(); err == nil {
		err = e
	}
	return err
}

// fanControl states each fan output's mode: an automatic curve that was stopped before
// a run spoils the comparison (kernel: sysfs-interface.rst, pwm[1-*]_enable).
func (c *chip) fanControl() []telemetry.Setting {
	var all []telemetry.Setting
	for _, a := range c.found {
		if a.kind != "pwm" || !c.files[a.base()+"_enable"] {
			continue
		}
		mode, err := c.tree.Int(c.dir + "/" + a.base() + "_enable")
		if err != nil {
			continue
		}
		text := fmt.Sprintf("automatic (mode %d of the chip)", mode)
		switch mode {
		case 0:
			text = "none, full speed"
		case 1:
			text = "manual"
		}
		all = append(all, telemetry.Setting{Key: "fan control, " + c.title + " " + a.base(), Value: text})
	}
	return all
}
