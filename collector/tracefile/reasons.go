package tracefile

import (
	"strings"

	"soakline/collector/telemetry"
)

// AcceleratorReasons explains the bits that nvmlDeviceGetCurrentClocksEventReasons of
// the management library of accelerator cards returns (nvml.h, group "Clocks Event
// Reasons"; names shortened to its own words). HW slowdown stands for heat, power brake
// or a fast trigger alike, so it is "other".
func AcceleratorReasons() []telemetry.ReasonBit {
	return []telemetry.ReasonBit{
		{Mask: 0x1, Name: "GPU idle", Limiter: "idle"},
		{Mask: 0x2, Name: "applications clocks setting", Limiter: "clock"},
		{Mask: 0x4, Name: "SW power cap", Limiter: "power-long"},
		{Mask: 0x8, Name: "HW slowdown", Limiter: "other"},
		{Mask: 0x10, Name: "sync boost", Limiter: "other"},
		{Mask: 0x20, Name: "SW thermal slowdown", Limiter: "thermal"},
		{Mask: 0x40, Name: "HW thermal slowdown", Limiter: "thermal"},
		{Mask: 0x80, Name: "HW power brake slowdown", Limiter: "other"},
		{Mask: 0x100, Name: "display clock setting", Limiter: "clock"},
	}
}

const acceleratorReasons = "accelerator event reasons"

// saysAccelerator is the documented rule by which a file tells that its reason masks
// are those of AcceleratorReasons.
func saysAccelerator(setup []telemetry.Setting) bool {
	for _, s := range setup {
		switch strings.ToLower(s.Key) {
		case "reasons":
			if strings.EqualFold(s.Value, acceleratorReasons) {
				return true
			}
		case "sensors":
			if strings.Contains(strings.ToLower(s.Value), "management library") {
				return true
			}
		}
	}
	return false
}
