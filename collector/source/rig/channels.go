package rig

import (
	"fmt"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Device is what every channel of the rig sits on.
const Device = "simulated: dome-control computer of a small observatory"

// The places of the channels within the group; the cores follow from firstCore.
const (
	chPower = iota
	chEnergy
	chDie
	chClock
	chLoad
	chThroughput
	chHits
	chFan
	chBoard
	chAmbient
	chLong
	chShort
	chWindow
	chThermal
	firstCore
	numChannels = firstCore + Cores
)

func channels() []telemetry.Channel {
	fine, slow := 10*time.Millisecond, time.Second
	chs := make([]telemetry.Channel, numChannels)
	put := func(i int, key, name string, q quantity.Kind, r telemetry.Role, refresh time.Duration) {
		chs[i] = telemetry.Channel{Key: "rig/" + key, Name: name, Quantity: q, Role: r,
			Source: Name, Device: Device, Refresh: refresh, Simulated: true}
	}
	put(chPower, "package-power", "package power", quantity.Power, telemetry.RolePower, fine)
	put(chEnergy, "package-energy", "package energy", quantity.Energy, telemetry.RoleEnergy, fine)
	put(chDie, "die-temperature", "die temperature", quantity.Temperature, telemetry.RoleDie, fine)
	put(chClock, "core-clock", "core clock", quantity.Frequency, telemetry.RoleClock, fine)
	put(chLoad, "load", "load", quantity.Share, telemetry.RoleLoad, fine)
	put(chThroughput, "throughput", "frames reduced", quantity.Rate, telemetry.RoleThroughput, fine)
	put(chHits, "thermal-hits", "thermal limit hits", quantity.Count, telemetry.RoleThermalHits, fine)
	put(chFan, "fan", "fan speed", quantity.Rotation, telemetry.RoleFan, slow)
	put(chBoard, "board-temperature", "board temperature", quantity.Temperature, telemetry.RoleNone, slow)
	put(chAmbient, "ambient-temperature", "ambient temperature", quantity.Temperature, telemetry.RoleAmbient, slow)
	put(chLong, "long-term-limit", "long-term power limit", quantity.Power, telemetry.RoleLongLimit, 0)
	put(chShort, "short-term-limit", "short-term power limit", quantity.Power, telemetry.RoleShortLimit, 0)
	put(chWindow, "limit-window", "power limit time constant", quantity.Duration, telemetry.RoleLongWindow, 0)
	put(chThermal, "thermal-limit", "thermal limit", quantity.Temperature, telemetry.RoleThermalLimit, 0)
	for i := range Cores {
		put(firstCore+i, fmt.Sprintf("core-%d-temperature", i), fmt.Sprintf("core %d temperature", i),
			quantity.Temperature, telemetry.RoleCore, fine)
	}
	return chs
}
