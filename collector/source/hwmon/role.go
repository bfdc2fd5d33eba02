package hwmon

import (
	"strings"

	"soakline/collector/telemetry"
)

// Ranks of the candidates for the die temperature, best first. The package sensor read
// anew each time beats the one cached for a second; AMD's Tdie is the junction, Tctl a
// scale for fan control that some models offset; firmware zones are coarse and may be
// constant.
const (
	rankPackageZone  = 100
	rankCorePackage  = 90
	rankTdie         = 80
	rankTctl         = 75
	rankProcessor    = 60
	rankGraphicsEdge = 20
	rankFirmwareZone = 5
)

// roleOf says what an attribute of a chip means to the analysis.
func (c *chip) roleOf(a attribute, label string) (telemetry.Role, int) {
	switch a.kind {
	case "fan":
		return telemetry.RoleFan, 0
	case "power":
		return c.powerRole(a)
	case "temp":
		return c.temperatureRole(label)
	}
	return telemetry.RoleNone, 0
}

func (c *chip) temperatureRole(label string) (telemetry.Role, int) {
	switch c.name {
	case "coretemp":
		if n, ok := strings.CutPrefix(label, "Package id "); ok {
			return telemetry.RoleDie, rankCorePackage - small(n)
		}
		if strings.HasPrefix(label, "Core ") {
			return telemetry.RoleCore, 0
		}
	case "k10temp":
		switch {
		case label == "Tdie":
			return telemetry.RoleDie, rankTdie
		case label == "Tctl", label == "":
			return telemetry.RoleDie, rankTctl
		case strings.HasPrefix(label, "Tccd"):
			return telemetry.RoleCore, 0
		}
	case "via_cputemp", "cpu_thermal", "cpu-thermal":
		return telemetry.RoleDie, rankProcessor
	case "amdgpu":
		if c.integrated() && label == "edge" {
			return telemetry.RoleDie, rankGraphicsEdge
		}
	}
	return telemetry.RoleNone, 0
}

// powerRole gives an integrated graphics unit's power the package role: there it is the
// whole package, processor cores included (kernel: Documentation/gpu/amdgpu/thermal.rst).
// A graphics card's power belongs to the card, not to the processor's die.
func (c *chip) powerRole(a attribute) (telemetry.Role, int) {
	if c.name != "amdgpu" || !c.integrated() {
		return telemetry.RoleNone, 0
	}
	if a.item == "average" {
		return telemetry.RolePower, 39
	}
	return telemetry.RolePower, 40
}

// integrated is true for a graphics unit without fan, fan duty and power cap of its own:
// one that shares the processor's package.
func (c *chip) integrated() bool {
	return !c.files["fan1_input"] && !c.files["pwm1"] && !c.files["power1_cap"]
}

// small is a one-digit number, 9 for anything else.
func small(s string) int {
	if len(s) == 1 && s[0] >= '0' && s[0] <= '9' {
		return int(s[0] - '0')
	}
	return 9
}
