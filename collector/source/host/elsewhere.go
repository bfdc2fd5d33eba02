package host

import (
	"fmt"
	"math"
	"strings"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// This file says what systems other than Linux give a program that brings no driver of
// its own. It is built everywhere, so that it is tested everywhere.

// zone is a temperature as the general library gives it.
type zone struct {
	key  string
	degC float64
}

// unique numbers zones that share a key, in the order in which the system gives them.
func unique(zones []zone) []zone {
	seen := map[string]int{}
	for i := range zones {
		k := zones[i].key
		if seen[k]++; seen[k] > 1 {
			zones[i].key = fmt.Sprintf("%s#%d", k, seen[k])
		}
	}
	return zones
}

// zoneChannel offers a temperature. On Windows it is a zone of the firmware (class
// MSAcpi_ThermalZoneTemperature; gopsutil v3.24.5, host/host_windows.go), not a sensor of
// the processor: it may be constant, and the library divides it to whole kelvin. It is the die only
// where nothing better is.
func zoneChannel(goos string, z zone) telemetry.Channel {
	c := telemetry.Channel{Key: name + "/temperature/" + z.key, Name: z.key, Quantity: quantity.Temperature,
		Source: name, Device: "system interface"}
	if goos == "windows" {
		c.Device = "firmware zone, not a sensor of the processor; it may be constant"
	}
	if k := strings.ToLower(z.key); strings.Contains(k, "cpu") || strings.Contains(k, "thermalzone") {
		c.Role, c.Rank = telemetry.RoleDie, 5
	}
	return c
}

// zoneReading refuses what cannot be true; 0 degC is what a zone without a sensor gives.
func zoneReading(degC float64) telemetry.Reading {
	if !(degC >= -55 && degC <= 126.9) || degC == 0 {
		return gap(telemetry.GapImplausible)
	}
	return telemetry.Reading{Value: degC, State: telemetry.Fresh}
}

const byFeed = "An instrument or a program of yours can give it: soakline watch --feed, see 'soakline feed check --help'."

// noZones says why there is no temperature.
func noZones(goos string, err error) telemetry.Missing {
	m := telemetry.Missing{Name: "temperatures", Source: name, Role: telemetry.RoleDie, Reason: "the system reports no temperature", Remedy: byFeed}
	switch {
	case goos == "darwin" || goos == "freebsd":
		m.Reason = "the general library gives none on this system to a program built without C"
	case goos == "windows" && err != nil:
		m.Reason = "the firmware's zones cannot be asked for: " + err.Error()
		m.Remedy = "Some machines give them to an administrator only. " + byFeed
	case err != nil:
		m.Reason = err.Error()
	}
	return m
}

// withoutDriver lists what these systems keep from a program without a driver of its own.
func withoutDriver() (list []telemetry.Missing) {
	for _, m := range []struct {
		name string
		role telemetry.Role
	}{{"package power", telemetry.RolePower}, {"core clock", telemetry.RoleClock}, {"power limits and their time constant", telemetry.RoleLongLimit},
		{"limit reasons", telemetry.RoleReasons}, {"fan speed", telemetry.RoleFan}} {
		list = append(list, telemetry.Missing{Name: m.name, Source: name, Role: m.role,
			Reason: "this system gives it to no program without a driver of its own, and soakline brings none", Remedy: byFeed})
	}
	return list
}

func gap(s telemetry.State) telemetry.Reading { return telemetry.Reading{Value: math.NaN(), State: s} }
