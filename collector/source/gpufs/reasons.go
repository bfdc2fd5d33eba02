package gpufs

import "soakline/collector/telemetry"

// word gathers one or more bits of the vendor's 64-bit throttle word into one bit of
// ours: a mask travels as float32, exact up to 24 bits.
type word struct {
	name    string
	limiter string
	bits    []uint // of indep_throttle_status
}

// words by kernel: drivers/gpu/drm/amd/pm/swsmu/inc/amdgpu_smu.h, SMU_THROTTLER_*_BIT.
// PPT is a power limit by one of several time constants; SPL the sustained, SPPT the slow
// and FPPT the fast limit of a processor with graphics; TDC and EDC the thermal and the
// electrical limit of a rail's current. PROCHOT is asked for from outside.
var words = []word{
	{"PPT0", "power-long", []uint{0}}, {"PPT1", "power-long", []uint{1}}, {"PPT2", "power-long", []uint{2}}, {"PPT3", "power-long", []uint{3}},
	{"SPL", "power-long", []uint{4}}, {"FPPT", "power-short", []uint{5}}, {"SPPT", "power-long", []uint{6}}, {"SPPT_APU", "power-long", []uint{7}},
	{"TDC_GFX", "current", []uint{16}}, {"TDC_SOC", "current", []uint{17}}, {"TDC_MEM", "current", []uint{18}},
	{"TDC_VDD", "current", []uint{19}}, {"TDC_CVIP", "current", []uint{20}},
	{"EDC_CPU", "current", []uint{21}}, {"EDC_GFX", "current", []uint{22}}, {"APCC", "current", []uint{23}},
	{"TEMP_GPU", "thermal", []uint{32}}, {"TEMP_CORE", "thermal", []uint{33}}, {"TEMP_MEM", "thermal", []uint{34}},
	{"TEMP_EDGE", "thermal", []uint{35}}, {"TEMP_HOTSPOT", "thermal", []uint{36}}, {"TEMP_SOC", "thermal", []uint{37}},
	{"TEMP_VR, TEMP_LIQUID or VRHOT", "thermal", []uint{38, 39, 40, 41, 42, 43, 44, 45}},
	{"PROCHOT, PPM or FIT", "other", []uint{46, 47, 56, 57}},
}

// gather makes our mask of the vendor's.
func gather(status uint64) (mask uint64) {
	for i := range words {
		for _, b := range words[i].bits {
			if status>>b&1 != 0 {
				mask |= 1 << i
			}
		}
	}
	return mask
}

// reasonBits explains the mask that gather makes.
func reasonBits() []telemetry.ReasonBit {
	bits := make([]telemetry.ReasonBit, len(words))
	for i, w := range words {
		bits[i] = telemetry.ReasonBit{Mask: 1 << i, Name: w.name, Limiter: w.limiter}
	}
	return bits
}

// residency is a counter of a version 3 table that grows while a limiter is active.
type residency struct{ field, name, limiter string }

var residencies = []residency{
	{"res_prochot", "PROCHOT", "other"}, {"res_spl", "SPL", "power-long"}, {"res_fppt", "FPPT", "power-short"},
	{"res_sppt", "SPPT", "power-long"}, {"res_thm_core", "THM_CORE", "thermal"}, {"res_thm_gfx", "THM_GFX", "thermal"},
	{"res_thm_soc", "THM_SOC", "thermal"},
}

func residencyBits() []telemetry.ReasonBit {
	bits := make([]telemetry.ReasonBit, len(residencies))
	for i, r := range residencies {
		bits[i] = telemetry.ReasonBit{Mask: 1 << i, Name: r.name, Limiter: r.limiter}
	}
	return bits
}
