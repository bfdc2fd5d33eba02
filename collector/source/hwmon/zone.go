package hwmon

import (
	"context"
	"fmt"
	"strings"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

// zone is one thermal zone as found. Its number is probe order; its type is its name and
// may repeat.
type zone struct {
	tree      *rawfs.Tree
	dir, kind string
	nth       int // among zones of the same type, from 1
}

// zones lists the thermal zones that are measurements of their own.
func (s *Source) zones(ctx context.Context) ([]zone, error) {
	dirs, err := s.tree.List(zoneDir)
	if err != nil {
		return nil, err
	}
	var zones []zone
	count := map[string]int{}
	for _, d := range dirs {
		if ctx.Err() != nil {
			break
		}
		if !strings.HasPrefix(d, "thermal_zone") {
			continue
		}
		z := zone{tree: s.tree, dir: zoneDir + "/" + d}
		z.kind = s.tree.TextOr(z.dir+"/type", "")
		if z.kind == "" || s.repeats(z) {
			continue
		}
		count[slug(z.kind)]++
		z.nth = count[slug(z.kind)]
		zones = append(zones, z)
	}
	return zones, nil
}

// repeats is true for zones that say nothing new: one that the power supply class or an
// hwmon device makes of its own sensor, and INT3400, whose temperature is the constant
// 20 °C (kernel: drivers/thermal/intel/int340x_thermal/int3400_thermal.c).
func (s *Source) repeats(z zone) bool {
	if z.kind == "INT3400 Thermal" || z.kind == "nvme" {
		return true
	}
	return s.tree.Exists("sys/class/power_supply/" + z.kind)
}

// zonePace: x86_pkg_temp reads the register anew each time; acpitz runs a firmware
// method; of the rest nothing is known.
func (z zone) pace() pace {
	switch z.kind {
	case "x86_pkg_temp":
		return pace{fast: true}
	case "acpitz":
		return pace{every: 2 * time.Second}
	case "cpu-thermal", "cpu_thermal", "soc-thermal", "soc_thermal":
		return pace{every: 250 * time.Millisecond} // a register or a mailbox, by chip
	}
	return unknownPace
}

func (z zone) role() (telemetry.Role, int) {
	switch z.kind {
	case "x86_pkg_temp":
		return telemetry.RoleDie, rankPackageZone - (z.nth - 1)
	case "cpu-thermal", "cpu_thermal", "soc-thermal", "soc_thermal":
		return telemetry.RoleDie, rankProcessor
	case "acpitz":
		return telemetry.RoleDie, rankFirmwareZone
	}
	return telemetry.RoleNone, 0
}

func (z zone) open(inv *telemetry.Inventory) {
	title, key := "zone "+z.kind, join(name, "zone", slug(z.kind))
	if z.nth > 1 {
		title += fmt.Sprintf(" %d", z.nth)
		key += fmt.Sprintf("#%d", z.nth)
	}
	role, rank := z.role()
	f, err := z.tree.Open(z.dir + "/temp")
	if err != nil {
		inv.Missing = append(inv.Missing, telemetry.Missing{Name: title, Source: name, Role: role, Reason: err.Error(), Remedy: remedy(err)})
		return
	}
	m, p := measures["temp"], z.pace()
	inv.Groups = append(inv.Groups, telemetry.Group{
		Name: title, Every: p.every, Slow: !p.fast,
		Channels: []telemetry.Channel{{Key: key, Name: title, Quantity: quantity.Temperature, Role: role, Rank: rank,
			Source: name, Device: "thermal zone " + z.kind, Refresh: p.renews}},
		Reader: &gauge.Reader{Attrs: []gauge.Attr{{File: f, Scale: m.scale, Min: m.min, Max: m.max}}},
	})
}
