package msr

import "math"

// Registers of Intel processors (SDM Vol. 4; EDK2 ArchitecturalMsr.h, SkylakeMsr.h) and of
// AMD ones (kernel: drivers/powercap/intel_rapl_msr.c, arch/x86/include/asm/msr-index.h).
const (
	regThermalTarget  = 0x1A2 // MSR_TEMPERATURE_TARGET
	regPackageThermal = 0x1B1 // IA32_PACKAGE_THERM_STATUS
	regPeakLimit      = 0x601 // PL4
	regUnits          = 0x606 // MSR_RAPL_POWER_UNIT
	regPowerLimit     = 0x610 // MSR_PKG_POWER_LIMIT
	regEnergy         = 0x611 // MSR_PKG_ENERGY_STATUS
	regThrottledTime  = 0x613 // MSR_PKG_PERF_STATUS
	regGraphicsReason = 0x6B0
	regRingReason     = 0x6B1
	regUnitsAMD       = 0xC0010299
	regEnergyAMD      = 0xC001029B
)

// units are what one count of a field stands for.
type units struct{ watt, joule, second float64 }

// decodeUnits reads MSR_RAPL_POWER_UNIT: power 2^-[3:0] W, energy 2^-[12:8] J, time
// 2^-[19:16] s (SDM Vol. 3B, 14.9.1).
func decodeUnits(raw uint64) units {
	part := func(shift, mask uint) float64 { return math.Ldexp(1, -int(raw>>shift&uint64(mask))) }
	return units{watt: part(0, 0xf), joule: part(8, 0x1f), second: part(16, 0xf)}
}

// limit is one of the two limits of MSR_PKG_POWER_LIMIT.
type limit struct {
	watts   float64
	seconds float64 // the window
	enabled bool
	clamped bool // may go below the clock that the system asked for
}

// decodeLimit reads half of MSR_PKG_POWER_LIMIT: power [14:0], enable 15, clamp 16, window
// [23:17] = 2^Y (1+Z/4) time units with Y the low five bits and Z the top two (SDM 14.9.3).
func decodeLimit(half uint32, u units) limit {
	window := half >> 17 & 0x7f
	y, z := window&0x1f, window>>5
	return limit{watts: float64(half&0x7fff) * u.watt, seconds: math.Ldexp(1+float64(z)/4, int(y)) * u.second,
		enabled: half>>15&1 != 0, clamped: half>>16&1 != 0}
}

// decodeLimits reads the long-term and the short-term limit and the lock.
func decodeLimits(raw uint64, u units) (long, short limit, locked bool) {
	return decodeLimit(uint32(raw), u), decodeLimit(uint32(raw>>32)&0xffffff, u), raw>>63 != 0
}

// decodeTarget reads MSR_TEMPERATURE_TARGET: the highest junction temperature [23:16] and
// by how much firmware or owner has lowered the point at which the processor holds back,
// [29:24] (kernel: drivers/thermal/intel/intel_tcc.c), in °C and K.
func decodeTarget(raw uint64) (highest, offset float64) {
	return float64(raw >> 16 & 0xff), float64(raw >> 24 & 0x3f)
}

// decodeThermal reads IA32_PACKAGE_THERM_STATUS: degrees below the highest junction
// temperature [22:16], valid bit 31 (SDM Vol. 3B, 14.8).
func decodeThermal(raw uint64) (below float64, valid bool) {
	return float64(raw >> 16 & 0x7f), raw>>31&1 != 0
}
