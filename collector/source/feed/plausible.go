package feed

import (
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// bounds of what an instrument on a bench can say, in the canonical unit. They are wide
// and catch what broken ones give: -127, -128 and -273.15 degC, a thermocouple that is
// torn off, 65535 rpm, all-ones words. Common practice, no source.
var bounds = map[quantity.Kind][2]float64{
	quantity.Temperature: {-55, 250},
	quantity.Difference:  {-300, 300},
	quantity.Power:       {-20000, 20000},
	quantity.Energy:      {0, 1e15},
	quantity.Frequency:   {0, 20000},
	quantity.Rotation:    {0, 60000},
	quantity.Potential:   {-1000, 1000},
	quantity.Current:     {-2000, 2000},
	quantity.Share:       {0, 100},
	quantity.Flow:        {-1000, 1000},
}

// powerOn is the code that a DS18B20 thermometer holds before its first conversion and
// after its supply broke down, degC (data sheet, section "Operation: measuring
// temperature").
const powerOn = 85.0

// plausible says whether a value can be true after the one before (NaN: none).
func plausible(kind quantity.Kind, role telemetry.Role, v, before float64) bool {
	if b, known := bounds[kind]; known && !(v >= b[0] && v <= b[1]) {
		return false
	}
	if kind != quantity.Temperature {
		return v-v == 0
	}
	switch v {
	case 127, 128: // eight bits at their end, whole degrees
		return false
	case powerOn:
		return before > powerOn-5 && before < powerOn+5
	case 0:
		return role != telemetry.RoleDie && role != telemetry.RoleCore
	}
	return true
}
