package tracefile

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// assignRoles gives the channels their roles: by name and unit, then as the file's notes
// say, then as the user says.
// means are those of each channel's values.
func assignRoles(t *telemetry.Trace, means []float64, noted []telemetry.Setting, overrides map[telemetry.Role]string) error {
	guessRoles(t, means)
	for _, n := range noted {
		for i := range t.Channels {
			if t.Channels[i].Name == n.Value {
				noteRole(&t.Channels[i], telemetry.Role(n.Key))
			}
		}
	}
	chs, err := telemetry.Resolve(t.Channels, overrides)
	if err != nil {
		return fmt.Errorf("roles: %w", err)
	}
	for i := range chs {
		chs[i].Rank = 0
	}
	t.Channels = chs
	return nil
}

const notedRank = 1000 // above every guess

func noteRole(c *telemetry.Channel, r telemetry.Role) {
	if r == "none" {
		c.Role = telemetry.RoleNone
	} else if slices.Contains(telemetry.Roles(), r) {
		c.Role, c.Rank = r, notedRank
	}
}

// guessRoles proposes a role and a rank for every channel. Where several junction
// sensors have equal claim, or only the cores are there, the hottest is the die.
func guessRoles(t *telemetry.Trace, means []float64) {
	for i := range t.Channels {
		c := &t.Channels[i]
		c.Role, c.Rank = guess(c.Name, c.Quantity)
	}
	claim := telemetry.RoleDie
	if !slices.ContainsFunc(t.Channels, func(c telemetry.Channel) bool { return c.Role == claim }) {
		claim = telemetry.RoleCore
	}
	best, hottest := -1, math.Inf(-1)
	top := math.MinInt
	for i, c := range t.Channels {
		if c.Role != claim || c.Rank < top {
			continue
		}
		if mean := means[i]; c.Rank > top || mean > hottest {
			best, hottest, top = i, mean, c.Rank
		}
	}
	if best >= 0 {
		t.Channels[best].Role = telemetry.RoleDie
		t.Channels[best].Rank++
	}
}

func meanOf(values []float64) float64 {
	sum, n := 0.0, 0
	for _, v := range values {
		if !math.IsNaN(v) {
			sum, n = sum+v, n+1
		}
	}
	return sum / float64(max(n, 1))
}

// words are a name's parts in lower case: "CPU0 Tdie" holds cpu0, cpu, 0, tdie.
type words map[string]bool

func wordsOf(name string) words {
	w := words{}
	for _, f := range strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r)
	}) {
		w[f] = true
		if stem := strings.TrimRight(f, "0123456789"); stem != f {
			w[stem] = true
			w["#"] = true // it is one of several
		}
	}
	return w
}

func (w words) any(of ...string) bool {
	return slices.ContainsFunc(of, func(s string) bool { return w[s] })
}

// guess is the role that a name and a quantity suggest. Rank orders the candidates:
// steps of 20 for what is measured, 10 less for an average, 5 less for one of several.
func guess(name string, kind quantity.Kind) (telemetry.Role, int) {
	w := wordsOf(name)
	role, rank := telemetry.RoleNone, 0
	switch kind {
	case quantity.Temperature:
		role, rank = w.temperature()
	case quantity.Power:
		role, rank = w.power()
	case quantity.Energy:
		role, rank = w.energy()
	case quantity.Frequency:
		role, rank = w.frequency()
	case quantity.Share:
		role, rank = w.share()
	case quantity.Rotation:
		if !w.any("pump", "disk", "drive") {
			role = telemetry.RoleFan
		}
	case quantity.Bits:
		role = telemetry.RoleReasons
	case quantity.Duration:
		if w.any("window", "tau", "constant") {
			role = telemetry.RoleLongWindow
		}
	case quantity.Count:
		if w.any("thermal", "throttle", "prochot") {
			role = telemetry.RoleThermalHits
		}
	case quantity.Rate:
		role = telemetry.RoleThroughput
	}
	if w.any("averaged", "average", "avg", "mean", "smoothed") {
		rank -= 10
	}
	if w["#"] {
		rank -= 5
	}
	return role, rank
}

func (w words) temperature() (telemetry.Role, int) {
	switch {
	case w.any("limit", "tjmax", "throttle", "critical", "crit", "slowdown", "shutdown", "target", "threshold"):
		if w.any("shutdown", "critical", "crit", "memory", "mem", "target", "threshold") {
			return telemetry.RoleNone, 0
		}
		return telemetry.RoleThermalLimit, 0
	case w.any("memory", "mem", "vram", "hbm", "dimm", "dram", "ssd", "nvme", "disk", "drive", "battery", "vrm", "vr",
		"mos", "chipset", "pch", "motherboard", "mainboard", "skin", "palm", "wifi", "wlan", "outlet", "exhaust", "return",
		"block", "plate", "sink", "heatsink", "spreader", "case", "fins", "far", "lid"):
		return telemetry.RoleNone, 0
	case w.any("ambient"):
		return telemetry.RoleAmbient, 60
	case w.any("inlet", "intake"):
		return telemetry.RoleAmbient, 40
	case w.any("room", "air", "reference"):
		return telemetry.RoleAmbient, 20
	case w.any("coolant", "water", "liquid"):
		if w["out"] { // what leaves the block is no reference
			return telemetry.RoleNone, 0
		}
		return telemetry.RoleAmbient, 0
	case w.any("hotspot", "hottest", "junction", "tjunction") || w["hot"] && w["spot"]:
		return telemetry.RoleDie, 100
	case w.any("die", "tdie"):
		return telemetry.RoleDie, 80
	case w.any("package", "pkg", "tctl"):
		return telemetry.RoleDie, 60
	case w.any("core") && w["#"] || w["core"] && w.any("0", "1", "2", "3", "4", "5", "6", "7", "8", "9"):
		return telemetry.RoleCore, 0
	case w.any("cpu", "gpu", "soc", "chip", "processor", "core", "cores", "accelerator"):
		return telemetry.RoleDie, 40
	case w.any("temperature", "temp") && len(w) == 1:
		return telemetry.RoleDie, 20
	}
	return telemetry.RoleNone, 0
}

func (w words) power() (telemetry.Role, int) {
	switch {
	case w.any("short", "pl2", "burst") && !w.any("memory"):
		return telemetry.RoleShortLimit, 0
	case w.any("long", "pl1", "sustained") || w.any("limit", "cap") && !w.any("default", "requested", "minimum", "maximum", "min", "max"):
		return telemetry.RoleLongLimit, 0
	case w.any("limit", "cap", "default", "requested", "memory", "mem", "dram", "uncore", "battery", "charger", "adapter",
		"mains", "wall", "psu", "pump", "fan", "fans", "display", "drive", "disk"):
		return telemetry.RoleNone, 0
	case w.any("package", "pkg"):
		return telemetry.RolePower, 100
	case w.any("board", "card", "module"):
		return telemetry.RolePower, 80
	case w.any("cpu", "gpu", "soc", "chip", "processor", "socket", "accelerator", "total"):
		return telemetry.RolePower, 60
	case w.any("core", "cores"):
		return telemetry.RoleNone, 0
	case w.any("power"):
		return telemetry.RolePower, 40
	}
	return telemetry.RoleNone, 0
}

func (w words) energy() (telemetry.Role, int) {
	switch {
	case w.any("memory", "mem", "dram", "uncore", "battery", "core", "cores", "wall", "mains"):
		return telemetry.RoleNone, 0
	case w.any("package", "pkg"):
		return telemetry.RoleEnergy, 100
	case w.any("board", "card", "module", "total"):
		return telemetry.RoleEnergy, 80
	}
	return telemetry.RoleEnergy, 40
}

func (w words) frequency() (telemetry.Role, int) {
	switch {
	case w.any("memory", "mem", "vram", "dram", "uncore", "ring", "fabric", "bus", "cache", "video", "display", "network",
		"limit", "max", "maximum", "min", "minimum", "base", "requested", "target"):
		return telemetry.RoleNone, 0
	case w.any("core", "cores", "effective"):
		return telemetry.RoleClock, 100
	case w.any("cpu", "gpu", "graphics", "sm", "engine", "soc", "processor", "shader"):
		return telemetry.RoleClock, 80
	case w.any("clock", "frequency"):
		return telemetry.RoleClock, 40
	}
	return telemetry.RoleNone, 0
}

func (w words) share() (telemetry.Role, int) {
	switch {
	case w.any("memory", "mem", "fan", "pump", "duty", "pwm", "battery", "charge", "humidity", "disk", "drive", "throttle",
		"network", "swap", "gap", "lateness"):
		return telemetry.RoleNone, 0
	case w.any("load", "busy"):
		return telemetry.RoleLoad, 60
	case w.any("utilisation", "utilization", "usage"):
		return telemetry.RoleLoad, 40
	}
	return telemetry.RoleNone, 0
}
