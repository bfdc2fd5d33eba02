package text_test

import (
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// shortTrace is three seconds of rest: too little for any answer.
func shortTrace() *telemetry.Trace {
	return &telemetry.Trace{
		Time:     []float64{0, 1, 2},
		Channels: []telemetry.Channel{{Key: "p", Name: "package power", Quantity: quantity.Power, Role: telemetry.RolePower}},
		Values:   [][]float64{{5, 5, 5}},
	}
}
