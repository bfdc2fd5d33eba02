package picture

import (
	"math"

	"soakline/analysis"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// step is a computed recording: rest at 5 W, a burst at 60 W, then 28 W held, through
// two thermal stages in closed form; seconds long, one sample each every s. Between gap[0]
// and gap[1] the die sensor gives nothing.
func step(seconds, every float64, gap [2]float64) *telemetry.Trace {
	tr := &telemetry.Trace{Channels: []telemetry.Channel{
		{Key: "p", Name: "package power", Quantity: quantity.Power, Role: telemetry.RolePower},
		{Key: "t", Name: "die temperature", Quantity: quantity.Temperature, Role: telemetry.RoleDie},
		{Key: "c", Name: "core clock", Quantity: quantity.Frequency, Role: telemetry.RoleClock},
		{Key: "a", Name: "ambient temperature", Quantity: quantity.Temperature, Role: telemetry.RoleAmbient},
		{Key: "l", Name: "load", Quantity: quantity.Share, Role: telemetry.RoleLoad},
		{Key: "pl1", Name: "long-term limit", Quantity: quantity.Power, Role: telemetry.RoleLongLimit},
	}, Values: make([][]float64, 6)}
	var mean float64 = 5
	heat := [2]float64{5, 5}
	for i := 0; float64(i)*every < seconds; i++ {
		t := float64(i) * every
		p, clock, load := 5.0, 800.0, 1.0
		if t >= 20 {
			p, clock, load = 28, 2500, 99
			if mean < 28 && t < 60 {
				p, clock = 60, 4100
			}
		}
		mean -= (p - mean) * math.Expm1(-every/16)
		die := 22.0
		for k, s := range [2][2]float64{{0.5, 2}, {0.9, 70}} {
			heat[k] -= (p - heat[k]) * math.Expm1(-every/s[1])
			die += s[0] * heat[k]
		}
		if t >= gap[0] && t < gap[1] {
			die = math.NaN()
		}
		tr.Time = append(tr.Time, t)
		for c, v := range []float64{p, math.Round(10*die) / 10, clock, 22, load, 28} {
			tr.Values[c] = append(tr.Values[c], v)
		}
	}
	tr.Marks = []telemetry.Mark{{ID: 1, At: 100, Kind: telemetry.MarkUser, Text: "panel back on"}, {ID: 2, At: 140, Kind: telemetry.MarkMachine, Text: "supply: battery"}}
	return tr
}

func analysed(tr *telemetry.Trace) analysis.Result {
	return analysis.Analyze(tr, analysis.Options{LimitC: 90})
}

// found is a result as an analysis of step(400, ...) gives it, written down here so that
// the golden pictures change with the drawing alone.
func found() analysis.Result {
	u := analysis.Unknown()
	cause := "power budget"
	r := analysis.Result{Schema: analysis.Schema, UntilS: 399.5,
		Load: []analysis.Span{{StartS: 20, EndS: 399.5}},
		Limiter: []analysis.LimiterSpan{{StartS: 0, EndS: 20, Kind: analysis.Idle, Source: "inferred", Confidence: 0.99},
			{StartS: 20, EndS: 29, Kind: analysis.PowerShort, Source: "inferred", Confidence: 0.98},
			{StartS: 29, EndS: 330, Kind: analysis.PowerLong, Source: "inferred", Confidence: 1},
			{StartS: 330, EndS: 345, Kind: analysis.Thermal, Source: "inferred", Confidence: 0.6},
			{StartS: 345, EndS: 399.5, Kind: analysis.PowerLong, Source: "reported", Confidence: 1}},
		ThermalHits: []analysis.ThermalHit{{StartS: 330, EndS: 345, LimitC: 61}},
		PowerStep: analysis.PowerStep{Found: true, TimeS: 29, ShortW: 60, ShortLowW: 59.8, ShortHighW: 60.2, LongW: 28, LongLowW: 27.9, LongHighW: 28.1,
			TimeConstantS: 16, TimeConstantLowS: 15.5, TimeConstantHighS: 16.5, Cause: &cause, StatedLongW: 28, StatedShortW: u, StatedTimeConstantS: u},
		Steady: analysis.Steady{Reached: true, SinceS: 180, TemperatureC: 61.1, PowerW: 28, ForecastC: 61.1, ForecastLowC: 60.6, ForecastHighC: 61.6, EtaS: 0},
		ThermalPath: analysis.ThermalPath{ReferenceC: 22, ReferenceSource: "ambient temperature", RthKPerW: 1.4, RthLowKPerW: 1.36, RthHighKPerW: 1.44,
			NearKPerW: 0.5, NearLowKPerW: 0.45, NearHighKPerW: 0.55, FarKPerW: 0.9, FarLowKPerW: 0.84, FarHighKPerW: 0.96},
		Headroom: analysis.Headroom{LimitC: 90, LimitSource: "given", MarginK: 28.9, PowerW: 48, PowerLowW: 44, PowerHighW: 53},
	}
	return r
}
