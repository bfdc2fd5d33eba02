package msr

import (
	"strings"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Ranks below those of sources that need no root and above firmware's: the same limits
// and temperatures are shown by powercap and hwmon.
const (
	rankReasons = 100
	rankEnergy  = 50
	rankDie     = 70
	rankLimits  = 10
)

// builder makes the groups of one package.
type builder struct {
	source *Source
	inv    *telemetry.Inventory
	cpu    model
	units  units
	open   func() (registers, error)
	title  string
	key    string
	number int // of the package
}

// channel describes a value; rank 0 is no role.
func (b *builder) channel(what, key string, q quantity.Kind, role telemetry.Role, rank int) telemetry.Channel {
	c := telemetry.Channel{Key: b.key + "/" + key, Name: b.title + " " + what, Quantity: q, Source: name,
		Device: "processor registers, " + b.cpu.String()}
	if rank > 0 {
		c.Role, c.Rank = role, rank-b.number
	}
	return c
}

// probe leaves a register out that the processor does not have.
func (b *builder) probe(f registers, address int64, what string, role telemetry.Role) bool {
	_, state := f.read(address)
	if state == telemetry.Fresh {
		return true
	}
	b.inv.Missing = append(b.inv.Missing, telemetry.Missing{Name: b.title + " " + what, Source: name, Role: role,
		Reason: "the processor, or the machine below it, has no such register, or its driver refuses it"})
	return false
}

// add appends a group with its reader.
func (b *builder) add(g telemetry.Group, r *reader) {
	if len(r.items) == 0 {
		r.file.Close()
		return
	}
	g.Reader = r
	b.inv.Groups = append(b.inv.Groups, g)
}

// fast makes the group that is read at every tick: reasons, thermal status, energy.
func (b *builder) fast() {
	f, err := b.open()
	if err != nil {
		return
	}
	r := &reader{file: f, now: b.source.now, units: b.units}
	g := telemetry.Group{Name: b.title + " registers"}
	for _, t := range []struct {
		table reasonTable
		what  string
		key   string
		rank  int
	}{{b.cpu.core, "limit reasons", "reasons", rankReasons}, {b.cpu.graphics, "graphics limit reasons", "graphics-reasons", 0},
		{b.cpu.ring, "ring limit reasons", "ring-reasons", 0}} {
		if t.table.address == 0 || !b.probe(f, t.table.address, t.what, telemetry.RoleReasons) {
			continue
		}
		c := b.channel(t.what, t.key, quantity.Bits, telemetry.RoleReasons, t.rank)
		c.Bits = t.table.bits
		if t.table.note == notDecoded {
			c.Role = telemetry.RoleNone // bits of unknown meaning say nothing to the analysis
		}
		r.items = append(r.items, item{register: t.table.address, kind: kindReasons})
		g.Channels = append(g.Channels, c)
	}
	if b.cpu.intel {
		b.thermal(f, r, &g)
	}
	b.energy(f, r, &g)
	b.add(g, r)
}

// thermalBits by EDK2 ArchitecturalMsr.h, MSR_IA32_PACKAGE_THERM_STATUS: status bits.
var thermalBits = []telemetry.ReasonBit{
	bit(0, "Thermal Status", "thermal"), bit(2, "PROCHOT Event", "other"), bit(4, "Critical Temperature Status", "thermal"),
	bit(10, "Power Limitation Status", "power-long"),
}

func (b *builder) thermal(f registers, r *reader, g *telemetry.Group) {
	if !b.probe(f, regPackageThermal, "thermal status", telemetry.RoleNone) {
		return
	}
	if target, state := f.read(regThermalTarget); state == telemetry.Fresh {
		if highest, _ := decodeTarget(target); highest > 0 {
			r.highest = highest
			r.items = append(r.items, item{register: regPackageThermal, kind: kindTemperature})
			g.Channels = append(g.Channels, b.channel("temperature by register", "temperature", quantity.Temperature, telemetry.RoleDie, rankDie))
		}
	}
	c := b.channel("thermal status", "thermal-status", quantity.Bits, telemetry.RoleNone, 0)
	c.Bits = thermalBits
	r.items = append(r.items, item{register: regPackageThermal, kind: kindStatus})
	g.Channels = append(g.Channels, c)
}

// energy adds the package's energy and power where powercap does not show them, and the
// time that the power limit took.
func (b *builder) energy(f registers, r *reader, g *telemetry.Group) {
	if b.units.joule == 0 || b.cpu.withoutUnits {
		return
	}
	register := int64(regEnergy)
	if !b.cpu.intel {
		register = regEnergyAMD
	}
	if !b.source.powercapReads() && b.probe(f, register, "energy", telemetry.RoleEnergy) {
		r.items = append(r.items, item{register: register, kind: kindPower}, item{register: register, kind: kindEnergy})
		g.Channels = append(g.Channels, b.channel("power by register", "power", quantity.Power, telemetry.RolePower, rankEnergy),
			b.channel("energy by register", "energy", quantity.Energy, telemetry.RoleEnergy, rankEnergy))
	}
	if b.cpu.intel && b.probe(f, regThrottledTime, "time at the power limit", telemetry.RoleNone) {
		r.items = append(r.items, item{register: regThrottledTime, kind: kindTime})
		g.Channels = append(g.Channels, b.channel("time at the power limit", "limited-time", quantity.Duration, telemetry.RoleNone, 0))
	}
}

// powercapReads is true where the kernel's power zones give a package's energy.
func (s *Source) powercapReads() bool {
	const dir = "sys/class/powercap"
	zones, _ := s.tree.List(dir)
	for _, z := range zones {
		if n := s.tree.TextOr(dir+"/"+z+"/name", ""); len(n) < 8 || n[:8] != "package-" {
			continue
		}
		if f, err := s.tree.Open(dir + "/" + z + "/energy_uj"); err == nil {
			f.Close()
			return true
		}
	}
	return false
}

// limits makes the group of the power limits and the thermal limit.
func (b *builder) limits() {
	f, err := b.open()
	if err != nil {
		return
	}
	r := &reader{file: f, now: b.source.now, units: b.units}
	g := telemetry.Group{Name: b.title + " limits", Every: limitEvery}
	if b.units.watt > 0 && !b.cpu.withoutUnits && b.probe(f, regPowerLimit, "power limits", telemetry.RoleLongLimit) {
		for _, l := range []struct {
			kind itemKind
			what string
			q    quantity.Kind
			role telemetry.Role
			rank int
		}{{kindLong, "long-term limit", quantity.Power, telemetry.RoleLongLimit, rankLimits},
			{kindLongWindow, "long-term window", quantity.Duration, telemetry.RoleLongWindow, rankLimits},
			{kindShort, "short-term limit", quantity.Power, telemetry.RoleShortLimit, rankLimits},
			{kindShortWindow, "short-term window", quantity.Duration, telemetry.RoleNone, 0}} {
			r.items = append(r.items, item{register: regPowerLimit, kind: l.kind})
			g.Channels = append(g.Channels, b.channel(l.what+" by register", strings.ReplaceAll(l.what, " ", "-"), l.q, l.role, l.rank))
		}
		if v, state := f.read(regPeakLimit); state == telemetry.Fresh && v&0x1fff != 0 {
			r.items = append(r.items, item{register: regPeakLimit, kind: kindPeak})
			g.Channels = append(g.Channels, b.channel("peak limit by register", "peak-limit", quantity.Power, telemetry.RoleNone, 0))
		}
	}
	if b.probe(f, regThermalTarget, "thermal limit", telemetry.RoleThermalLimit) {
		r.items = append(r.items, item{register: regThermalTarget, kind: kindTarget})
		g.Channels = append(g.Channels, b.channel("thermal limit by register", "thermal-limit", quantity.Temperature, telemetry.RoleThermalLimit, rankDie))
	}
	b.add(g, r)
}
