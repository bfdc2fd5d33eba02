package report

import (
	"math"
	"time"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/analysis/say"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// step is a computed recording: rest at 5 W, a burst at 60 W, then 28 W held, through
// two thermal stages in closed form; near and far are their resistances in K/W.
func step(seconds, every, near, far float64) *telemetry.Trace {
	tr := &telemetry.Trace{Start: time.Date(2026, 3, 1, 20, 15, 0, 0, time.UTC), Channels: []telemetry.Channel{
		{Key: "p", Name: "package power", Quantity: quantity.Power, Role: telemetry.RolePower},
		{Key: "t", Name: "die temperature", Quantity: quantity.Temperature, Role: telemetry.RoleDie},
		{Key: "c", Name: "core clock", Quantity: quantity.Frequency, Role: telemetry.RoleClock},
		{Key: "a", Name: "ambient temperature", Quantity: quantity.Temperature, Role: telemetry.RoleAmbient},
		{Key: "l", Name: "load", Quantity: quantity.Share, Role: telemetry.RoleLoad},
	}, Values: make([][]float64, 5)}
	mean, heat := 5.0, [2]float64{5, 5}
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
		for k, s := range [2][2]float64{{near, 2}, {far, 70}} {
			heat[k] -= (p - heat[k]) * math.Expm1(-every/s[1])
			die += s[0] * heat[k]
		}
		tr.Time = append(tr.Time, t)
		for c, v := range []float64{p, math.Round(10*die) / 10, clock, 22, load} {
			tr.Values[c] = append(tr.Values[c], v)
		}
	}
	tr.Setup = []telemetry.Setting{{Key: "cooler", Value: "plate"}, {Key: "host", Value: "dome-control-7"}}
	tr.Marks = []telemetry.Mark{{ID: 1, At: 100, Kind: telemetry.MarkUser, Text: "panel back on"}, {ID: 2, At: 20, Kind: telemetry.MarkCommand, Text: "load starts: /home/ada/build.sh"}}
	return tr
}

// fixed is a report of two setups with findings written down here, so that the golden
// tables change with the report alone.
func fixed() *Report {
	u := analysis.Unknown()
	yes, no := true, false
	result := func(die, near, far float64) analysis.Result {
		n := func(v float64) analysis.Number { return analysis.Number(v) }
		return analysis.Result{
			Load: []analysis.Span{{StartS: 20, EndS: 320}},
			Limiter: []analysis.LimiterSpan{{StartS: 0, EndS: 20, Kind: analysis.Idle}, {StartS: 20, EndS: 29, Kind: analysis.PowerShort, Confidence: 0.95},
				{StartS: 29, EndS: 319, Kind: analysis.PowerLong, Confidence: 0.95}, {StartS: 319, EndS: 320, Kind: analysis.Other}},
			PowerStep:  analysis.PowerStep{Found: true, TimeS: 29, ShortW: 60, ShortLowW: 59.8, ShortHighW: 60.2, LongW: 28, ShortIsALimit: &no},
			PowerLimit: analysis.PowerLimit{LongW: 28, LongLowW: 27.9, LongHighW: 28.1},
			Steady:     analysis.Steady{SinceS: u, TemperatureC: n(die), PowerW: 28, ForecastC: n(die), ForecastLowC: n(die - 0.5), ForecastHighC: n(die + 0.5)},
			ThermalPath: analysis.ThermalPath{ReferenceC: 22, RthKPerW: n(near + far), RthLowKPerW: n(near + far - 0.03), RthHighKPerW: n(near + far + 0.03),
				NearKPerW: n(near), NearLowKPerW: n(near - 0.05), NearHighKPerW: n(near + 0.05), FarKPerW: n(far), FarLowKPerW: u, FarHighKPerW: u},
			Headroom: analysis.Headroom{LimitC: 90, LimitSource: "given", PowerW: u, PowerLowW: u, PowerHighW: u, Why: "the load was too short"},
			Averages: analysis.Averages{ClockMHz: 2530, ClockLow1Pct: 2440, DieMaxC: u},
			Warnings: []string{"ambient drifted 1.2 K during the load"},
		}
	}
	line := func(text string) say.Line {
		return say.Line{Text: text, Parts: []say.Part{{Text: text, Evidence: "From 0:20 to 5:20."}}}
	}
	a, b := step(320, 1, 1.3, 0.9), step(320, 1, 0.5, 0.9)
	a.Setup = []telemetry.Setting{{Key: "paste", Value: "factory | <old>"}, {Key: "lid", Value: "open"}}
	b.Setup = []telemetry.Setting{{Key: "paste", Value: "re-applied"}, {Key: "lid", Value: "open"}}
	b.Scores = []telemetry.Score{{Name: "total", Value: 1548, Unit: "points", HigherIsBetter: true}}
	r := &Report{in: Input{Question: "Did new paste help?"}, setups: []setup{
		{letter: "A", runs: []run{{Run{Trace: a}, "A", result(83.1, 1.3, 0.9), line("Held at 28.0 W by the long-term power limit.")}}},
		{letter: "B", runs: []run{{Run{Trace: b}, "B", result(61.1, 0.5, 0.9), line("Settled at 61 °C.")}}},
	}}
	r.name()
	r.changes = []compare.Comparison{{ThermalPath: compare.ThermalPath{Verdict: compare.Near, NearRatio: 0.38, NearLow: 0.35, NearHigh: 0.42, FarRatio: u, FarLow: u, FarHigh: u, Why: "the near part carries 0.38 times the resistance"},
		Metrics: []compare.Metric{{Name: "sustained power", Unit: "W", NA: 3, NB: 3, A: 28, B: 28, ChangePct: 0.1, LowPct: -0.6, HighPct: 0.8, Real: &no, Why: "3 runs a side show changes of 1 % or more"},
			{Name: "temperature over reference", Unit: "K", NA: 3, NB: 3, A: 61, B: 39, ChangePct: -36.1, LowPct: -37, HighPct: -35.2, Real: &yes},
			{Name: "score", Unit: "points", NA: 1, NB: 3, A: 1, B: 2, ChangePct: 2.5, LowPct: u, HighPct: u, Why: "one run against 3 runs"}},
		Warnings: []string{"two things changed between A and B: paste, lid"}}}
	return r
}
