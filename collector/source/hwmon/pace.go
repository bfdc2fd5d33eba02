package hwmon

import (
	"strings"
	"time"
)

// pace is how often a chip is worth reading, and whether a read may take long.
type pace struct {
	driver string        // prefix of the chip's name
	every  time.Duration // the pace
	renews time.Duration // how often driver or chip make a new value; 0 is unknown
	fast   bool          // a read takes microseconds
}

// paces by driver, from the kernel's sources (drivers/hwmon, drivers/nvme/host/hwmon.c,
// drivers/platform/x86). The first prefix that fits counts.
var paces = []pace{
	{driver: "coretemp", every: time.Second / 2, renews: time.Second, fast: true},     // HZ in coretemp.c: asked each 1 s it gives values of 2 s
	{driver: "k10temp", fast: true},                                                   // each read asks the chip
	{driver: "nct6", every: 1500 * time.Millisecond, renews: 1500 * time.Millisecond}, // HZ + HZ/2 in nct6775-core.c
	{driver: "it8", every: 1500 * time.Millisecond, renews: 1500 * time.Millisecond},  // it87.c
	{driver: "w83", every: 1500 * time.Millisecond, renews: 1500 * time.Millisecond},  // w83627ehf.c
	{driver: "lm85", every: time.Second, renews: time.Second},                         // LM85_DATA_INTERVAL in lm85.c
	{driver: "nvme", every: 10 * time.Second},                                         // an admin command a read
	{driver: "drivetemp", every: time.Minute},                                         // may restart a disk's spin-down timer
	{driver: "dell_smm", every: 5 * time.Second},                                      // system management mode, 11 ms a temperature
	{driver: "thinkpad", every: 2 * time.Second},                                      // embedded controller
	{driver: "asus", every: 2 * time.Second},                                          // firmware calls, embedded controller
	{driver: "hp", every: 2 * time.Second},                                            // firmware calls
	{driver: "applesmc", every: 2 * time.Second},                                      // controller polled byte by byte
	{driver: "acpi", every: 2 * time.Second},                                          // firmware methods
	{driver: "power_meter", every: time.Second, renews: time.Second},                  // averaging interval
	{driver: "amdgpu", every: 500 * time.Millisecond},                                 // asks the card's controller
	{driver: "i915", every: 500 * time.Millisecond},                                   // takes a power reference
	{driver: "xe", every: 500 * time.Millisecond},                                     //
}

// batteryPace spares the firmware behind a battery; ACPI caches its data for 1 s and the
// packs renew theirs more slowly still (kernel: drivers/acpi/battery.c).
var batteryPace = pace{every: 5 * time.Second}

// unknownPace is for a driver that nobody looked at: on a goroutine of its own.
var unknownPace = pace{every: time.Second}

// paceOf chooses by driver name; update_interval, if the chip states one, serves for
// drivers that are not in the table.
func paceOf(name, device string, updateInterval time.Duration) pace {
	for _, p := range paces {
		if strings.HasPrefix(name, p.driver) {
			return p
		}
	}
	if strings.Contains(device, "/power_supply/") {
		return batteryPace
	}
	if updateInterval >= 50*time.Millisecond && updateInterval <= time.Minute {
		return pace{every: max(updateInterval, unknownPace.every), renews: updateInterval}
	}
	return unknownPace
}
