package nvml

import (
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// question is one value to ask for: a field of nvmlDeviceGetFieldValues, or a function
// of the form f(device, [argument,] *result).
type question struct {
	field     uint32
	functions []string // the first that the library has
	argument  int      // -1: none
	size, at  int      // of the result in bytes; where in it the number lies
	width     int      // 4 or 8
	every     time.Duration
}

// Paces. On the card looked at, an answer takes the driver 0.1 ms of a core for power and
// temperature, 0.5 ms for the averaged power and each of the times, and 4 ms for the
// energy: ten times a second that alone were 4 % of a core, once a second it is as exact.
const (
	often  = 0
	second = time.Second
	rarely = 10 * time.Second
)

// The questions, by number.
const (
	askPower = iota
	askAverage
	askEnergy
	askMemoryTemperature
	askLimit
	askPowerTime
	askThermalTime
	askHWThermalTime
	askBrakeTime
	askTemperature
	askGraphicsClock
	askMemoryClock
	askLoad
	askFan
	askReasons
	askShutdown
	askSlowdown
	askMemoryMax
	askCardMax
	numQuestions
)

func field(id uint32, every time.Duration) question { return question{field: id, every: every} }

func number(argument int, every time.Duration, functions ...string) question {
	return question{functions: functions, argument: argument, size: 4, width: 4, every: every}
}

// questions by nvml.h: NVML_FI_DEV_POWER_INSTANT and _AVERAGE (scope 0, the card),
// _TOTAL_ENERGY_CONSUMPTION, _MEMORY_TEMP, _POWER_CURRENT_LIMIT, the counters of
// _CLOCKS_EVENT_REASON_* (older headers number the last three 251 to 253; a card with
// such a driver says that it does not know them); clocks 0 graphics, 2 memory; thresholds 0 to 3.
var questions = [numQuestions]question{
	askPower: field(186, often), askAverage: field(185, second), askEnergy: field(83, second),
	askMemoryTemperature: field(82, often), askLimit: field(190, second),
	askPowerTime: field(74, second), askThermalTime: field(269, second), askHWThermalTime: field(270, second), askBrakeTime: field(271, second),
	askTemperature:   number(0, often, "nvmlDeviceGetTemperature"),
	askGraphicsClock: number(0, often, "nvmlDeviceGetClockInfo"),
	askMemoryClock:   number(2, second, "nvmlDeviceGetClockInfo"),
	askLoad:          {functions: []string{"nvmlDeviceGetUtilizationRates"}, argument: -1, size: 8, width: 4},
	askFan:           number(-1, second, "nvmlDeviceGetFanSpeed"),
	askReasons: {functions: []string{"nvmlDeviceGetCurrentClocksEventReasons", "nvmlDeviceGetCurrentClocksThrottleReasons"},
		argument: -1, size: 8, width: 8},
	askShutdown:  number(0, rarely, "nvmlDeviceGetTemperatureThreshold"),
	askSlowdown:  number(1, rarely, "nvmlDeviceGetTemperatureThreshold"),
	askMemoryMax: number(2, rarely, "nvmlDeviceGetTemperatureThreshold"),
	askCardMax:   number(3, rarely, "nvmlDeviceGetTemperatureThreshold"),
}

// item is one channel of a card.
type item struct {
	name     string
	quantity quantity.Kind
	role     telemetry.Role
	from     int     // the question
	per      float64 // of what the library counts in one canonical unit
	min, max float64 // what can be true
	derived  bool    // power as the difference quotient of the energy counter
	bits     []telemetry.ReasonBit
}

// reasons by nvml.h, nvmlClocksEventReasons, each as the limiter that it stands for. The
// hardware slowdown bit is raised for heat, for the external power brake and for the
// fast trigger alike, so that alone it says none of them.
var reasons = []telemetry.ReasonBit{
	{Mask: 0x1, Name: "GpuIdle", Limiter: "idle"},
	{Mask: 0x2, Name: "ApplicationsClocksSetting", Limiter: "clock"},
	{Mask: 0x4, Name: "SwPowerCap", Limiter: "power-long"},
	{Mask: 0x8, Name: "HwSlowdown", Limiter: "other"},
	{Mask: 0x10, Name: "SyncBoost", Limiter: "other"},
	{Mask: 0x20, Name: "SwThermalSlowdown", Limiter: "thermal"},
	{Mask: 0x40, Name: "HwThermalSlowdown", Limiter: "thermal"},
	{Mask: 0x80, Name: "HwPowerBrakeSlowdown", Limiter: "other"},
	{Mask: 0x100, Name: "DisplayClockSetting", Limiter: "clock"},
}

// allItems lists the channels that a card may have. The bounds are common practice, no
// source: wide enough for any card; 127 and above is what absent sensors give.
func allItems() []item {
	const hottest, mostPower, mostEnergy, mostTime = 126, 5000, 1e15, 1e12
	watt, celsius, duration := quantity.Power, quantity.Temperature, quantity.Duration
	return []item{
		{name: "board power", quantity: watt, role: telemetry.RolePower, from: askPower, per: 1000, max: mostPower},
		{name: "board power averaged", quantity: watt, from: askAverage, per: 1000, max: mostPower},
		{name: "energy", quantity: quantity.Energy, role: telemetry.RoleEnergy, from: askEnergy, per: 1000, max: mostEnergy},
		{name: "board power by energy", quantity: watt, from: askEnergy, per: 1000, max: mostPower, derived: true},
		{name: "power limit", quantity: watt, role: telemetry.RoleLongLimit, from: askLimit, per: 1000, min: 1, max: mostPower},
		{name: "temperature", quantity: celsius, role: telemetry.RoleDie, from: askTemperature, per: 1, min: -40, max: hottest},
		{name: "memory temperature", quantity: celsius, from: askMemoryTemperature, per: 1, min: 1, max: hottest},
		{name: "thermal limit", quantity: celsius, role: telemetry.RoleThermalLimit, from: askCardMax, per: 1, min: 1, max: 150},
		{name: "slowdown temperature", quantity: celsius, from: askSlowdown, per: 1, min: 1, max: 150},
		{name: "shutdown temperature", quantity: celsius, from: askShutdown, per: 1, min: 1, max: 150},
		{name: "memory thermal limit", quantity: celsius, from: askMemoryMax, per: 1, min: 1, max: 150},
		{name: "core clock", quantity: quantity.Frequency, role: telemetry.RoleClock, from: askGraphicsClock, per: 1, max: 20000},
		{name: "memory clock", quantity: quantity.Frequency, from: askMemoryClock, per: 1, max: 50000},
		{name: "load", quantity: quantity.Share, role: telemetry.RoleLoad, from: askLoad, per: 1, max: 100},
		{name: "fan duty asked for", quantity: quantity.Share, from: askFan, per: 1, max: 300},
		{name: "reasons", quantity: quantity.Bits, role: telemetry.RoleReasons, from: askReasons, per: 1, max: 1 << 24, bits: reasons},
		{name: "time at the power limit", quantity: duration, from: askPowerTime, per: 1e9, max: mostTime},
		{name: "time slowed by heat", quantity: duration, from: askThermalTime, per: 1e9, max: mostTime},
		{name: "time slowed by heat in hardware", quantity: duration, from: askHWThermalTime, per: 1e9, max: mostTime},
		{name: "time slowed by the power brake", quantity: duration, from: askBrakeTime, per: 1e9, max: mostTime},
	}
}
