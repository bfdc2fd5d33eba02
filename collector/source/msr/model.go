package msr

import (
	"fmt"
	"strconv"
	"strings"

	"soakline/collector/rawfs"
	"soakline/collector/telemetry"
)

// reasonTable says where a processor keeps its limit reasons and what the bits mean. The
// log bit of each lies 16 higher.
type reasonTable struct {
	address int64
	bits    []telemetry.ReasonBit
	note    string // what to know about the decoding
}

// model is what is known of a processor by its CPUID signature.
type model struct {
	intel         bool
	family, model int
	unitRegister  int64
	core          reasonTable
	graphics      reasonTable
	ring          reasonTable
	withoutUnits  bool // Silvermont: the unit register means something else
}

func (m model) String() string { return fmt.Sprintf("family %d model 0x%X", m.family, m.model) }

func bit(n int, name, limiter string) telemetry.ReasonBit {
	return telemetry.ReasonBit{Mask: 1 << n, Name: name, Limiter: limiter}
}

// skylakeBits by EDK2 SkylakeMsr.h, MSR_SKYLAKE_CORE_PERF_LIMIT_REASONS. Bit 12 is the
// usual ceiling with many cores busy, no fault.
var skylakeBits = []telemetry.ReasonBit{
	bit(0, "PROCHOT", "other"), bit(1, "Thermal", "thermal"), bit(4, "Residency State Regulation", "other"),
	bit(5, "Running Average Thermal Limit", "thermal"), bit(6, "VR Therm Alert", "thermal"), bit(7, "VR Therm Design Current", "current"),
	bit(8, "Other: Electrical", "current"), bit(10, "Package/Platform-Level PL1", "power-long"),
	bit(11, "Package/Platform-Level PL2/PL3", "power-short"), bit(12, "Max Turbo Limit", "clock"), bit(13, "Turbo Transition Attenuation", "clock"),
}

// haswellBits by EDK2 HaswellMsr.h, MSR_HASWELL_CORE_PERF_LIMIT_REASONS.
var haswellBits = []telemetry.ReasonBit{
	bit(0, "PROCHOT", "other"), bit(1, "Thermal", "thermal"), bit(4, "Graphics Driver", "other"),
	bit(5, "Autonomous Utilization-Based Frequency Control", "other"), bit(6, "VR Therm Alert", "thermal"), bit(8, "Electrical Design Point", "current"),
	bit(9, "Core Power Limiting", "power-long"), bit(10, "Package-Level Power Limiting PL1", "power-long"),
	bit(11, "Package-Level PL2 Power Limiting", "power-short"), bit(12, "Max Turbo Limit", "clock"), bit(13, "Turbo Transition Attenuation", "clock"),
}

// serverBits by EDK2 HaswellEMsr.h and XeonDMsr.h, MSR_*_CORE_PERF_LIMIT_REASONS.
var serverBits = []telemetry.ReasonBit{
	bit(0, "PROCHOT", "other"), bit(1, "Thermal", "thermal"), bit(2, "Power Budget Management", "power-long"),
	bit(3, "Platform Configuration Services", "other"), bit(5, "Autonomous Utilization-Based Frequency Control", "other"),
	bit(6, "VR Therm Alert", "thermal"), bit(8, "Electrical Design Point", "current"), bit(10, "Multi-Core Turbo", "clock"),
}

// goldmontBits by EDK2 GoldmontMsr.h, MSR_GOLDMONT_CORE_PERF_LIMIT_REASONS.
var goldmontBits = []telemetry.ReasonBit{
	bit(0, "PROCHOT", "other"), bit(1, "Thermal", "thermal"), bit(2, "Package-Level PL1", "power-long"), bit(3, "Package-Level PL2", "power-short"),
	bit(9, "Core Power Limiting", "power-long"), bit(10, "VR Therm Alert", "thermal"), bit(11, "Max Turbo Limit", "clock"),
	bit(12, "Electrical Design Point", "current"), bit(13, "Turbo Transition Attenuation", "clock"), bit(14, "Maximum Efficiency Frequency", "clock"),
}

// graphicsBits and ringBits by EDK2 SkylakeMsr.h, 0x6B0 and 0x6B1.
var (
	graphicsBits = []telemetry.ReasonBit{
		bit(0, "PROCHOT", "other"), bit(1, "Thermal", "thermal"), bit(5, "Running Average Thermal Limit", "thermal"),
		bit(6, "VR Therm Alert", "thermal"), bit(7, "VR Thermal Design Current", "current"), bit(8, "Other: Electrical", "current"),
		bit(10, "Package/Platform-Level PL1", "power-long"), bit(11, "Package/Platform-Level PL2/PL3", "power-short"), bit(12, "Inefficient Operation", "other"),
	}
	ringBits = graphicsBits[:8]
)

// rawBits name nothing: the processor's bits are shown as they are.
func rawBits() []telemetry.ReasonBit {
	var all []telemetry.ReasonBit
	for n := range 16 {
		all = append(all, bit(n, fmt.Sprintf("bit %d, meaning not known", n), ""))
	}
	return all
}

const (
	fromMemory = "as of the Skylake generation, from memory for this model: check it against where the power lands"
	notDecoded = "not decoded: the meaning of the bits is not known for this model"
)

// tableOf gives the core reasons by the processor's model number (family 6).
func tableOf(number int) reasonTable {
	switch number {
	case 0x4E, 0x5E, 0x55, 0x8E, 0x9E, 0x66: // EDK2 SkylakeMsr.h, IS_SKYLAKE_PROCESSOR
		return reasonTable{0x64F, skylakeBits, ""}
	case 0x7D, 0x7E, 0x8C, 0x8D, 0x97, 0x9A, 0xA5, 0xA6, 0xA7, 0xB7, 0xBA, 0xBF, 0xAA, 0xAC: // from memory: later clients
		return reasonTable{0x64F, skylakeBits, fromMemory}
	case 0x3C, 0x45, 0x46: // EDK2 HaswellMsr.h, IS_HASWELL_PROCESSOR
		return reasonTable{0x690, haswellBits, ""}
	case 0x3F, 0x4F, 0x56: // EDK2 HaswellEMsr.h, XeonDMsr.h
		return reasonTable{0x690, serverBits, ""}
	case 0x5C: // EDK2 GoldmontMsr.h, IS_GOLDMONT_PROCESSOR
		return reasonTable{0x64F, goldmontBits, ""}
	}
	return reasonTable{0x64F, rawBits(), notDecoded}
}

// identify reads vendor, family and model of the first processor in /proc/cpuinfo.
func identify(tree *rawfs.Tree) (model, bool) {
	text, err := tree.Text("proc/cpuinfo")
	if err != nil {
		return model{}, false
	}
	fields := map[string]string{}
	for line := range strings.SplitSeq(text, "\n") {
		key, value, ok := strings.Cut(line, ":")
		if !ok && len(fields) > 0 {
			break // the next processor
		}
		fields[strings.TrimSpace(key)] = strings.TrimSpace(value)
	}
	family, _ := strconv.Atoi(fields["cpu family"])
	number, _ := strconv.Atoi(fields["model"])
	m := model{family: family, model: number}
	switch {
	case fields["vendor_id"] == "GenuineIntel" && family == 6:
		m.intel, m.unitRegister, m.core = true, regUnits, tableOf(number)
		if m.core.address == 0x64F && number != 0x5C {
			m.graphics = reasonTable{regGraphicsReason, graphicsBits, ""}
			m.ring = reasonTable{regRingReason, ringBits, ""}
		}
		switch number { // Silvermont and Airmont, SDM Vol. 3B 14.9.1: other units
		case 0x37, 0x4A, 0x4C, 0x4D, 0x5A, 0x5D, 0x75:
			m.withoutUnits, m.core = true, reasonTable{}
		}
	case (fields["vendor_id"] == "AuthenticAMD" || fields["vendor_id"] == "HygonGenuine") && family >= 0x17:
		m.unitRegister = regUnitsAMD // 17h, 19h, 18h in drivers/powercap/intel_rapl_msr.c; later families from memory
	default:
		return model{}, false
	}
	return m, true
}
