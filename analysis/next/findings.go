package next

import (
	"math"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/analysis/stats"
	"soakline/collector/telemetry"
)

const step = 1.25 // the most by which a next try exceeds tested power, as in package headroom

// findings gathers what the rules speak of.
func findings(in Input) facts {
	f := facts{}
	r := in.Result
	f.held(r)
	f.path(r)
	f.room(r)
	f.beside(r)
	f.burst(r)
	f.trace(in)
	if in.Earlier != nil {
		f.earlier(*in.Earlier)
	}
	f.number("runs", float64(max(in.Runs, 1)), "", 0, "")
	return f
}

func (f facts) number(name string, v float64, unit string, places int, why string) {
	f[name] = finding{value: v, low: v, high: v, unit: unit, places: places, why: why}
}

func (f facts) interval(name string, v, low, high float64, unit string, places int, why string) {
	f[name] = finding{value: v, low: low, high: high, unit: unit, places: places, why: why}
}

func (f facts) truth(name string, v bool) {
	n := 0.0
	if v {
		n = 1
	}
	f.number(name, n, "", 0, "")
}

// held are the shares of the time under load by what held it, the burst apart, %.
func (f facts) held(r analysis.Result) {
	by, sum, sure := map[analysis.Kind]float64{}, 0.0, 0.0
	for _, s := range r.Limiter {
		if d := float64(s.EndS - s.StartS); s.Kind != analysis.Idle && s.Kind != analysis.PowerShort && d > 0 {
			by[s.Kind] += d
			sum += d
			sure += d * float64(s.Confidence)
		}
	}
	names := map[analysis.Kind]string{analysis.Thermal: "heat share", analysis.PowerLong: "power share", analysis.Clock: "clock share",
		analysis.Current: "current share", analysis.Other: "other share"}
	for k, name := range names {
		why := ""
		if sum == 0 {
			why = "no load was seen"
		}
		f.number(name, 100*by[k]/sum, "%", 0, why)
	}
	f.number("confidence", 100*sure/sum, "%", 0, "no load was seen")
	load := 0.0
	for _, s := range r.Load {
		load += float64(s.EndS - s.StartS)
	}
	f.number("load time", load, "s", 0, "")
}

// path is the heat's way: its two parts, and what halving or easing one would bring.
func (f facts) path(r analysis.Result) {
	p, s := r.ThermalPath, r.Steady
	why := first(p.Why, "the parts of the heat's way are not known")
	near, nl, nh := float64(p.NearKPerW), float64(p.NearLowKPerW), float64(p.NearHighKPerW)
	far, fl, fh := float64(p.FarKPerW), float64(p.FarLowKPerW), float64(p.FarHighKPerW)
	share := func(a, b float64) float64 { return 100 * a / (a + b) }
	f.interval("near share", share(near, far), share(nl, fh), share(nh, fl), "%", 0, why)
	f.interval("near", near, nl, nh, "K/W", 2, why)
	f.interval("far", far, fl, fh, "K/W", 2, why)
	power := sustained(r)
	f.number("sustained power", power, "W", 1, first(s.Why, "no settled power was seen"))
	f.interval("near half", near*power/2, nl*power/2, nh*power/2, "K", 1, why)
	f.interval("far quarter", far*power/4, fl*power/4, fh*power/4, "K", 1, why)
	f.watts("near half watts", r, near/2, nl/2, nh/2)
	f.watts("far quarter watts", r, far/4, fl/4, fh/4)
	f.truth("reference measured", p.ReferenceSource == "ambient temperature")
	if p.ReferenceSource == "" {
		f.number("reference measured", math.NaN(), "", 0, first(p.Why, "there is no path"))
	}
	f.truth("settled", s.Reached)
	f.interval("forecast", float64(s.ForecastC), float64(s.ForecastLowC), float64(s.ForecastHighC), "°C", 0, first(s.Why, "there is no forecast"))
	f.interval("time to settle", float64(s.EtaS), float64(s.EtaLowS), float64(s.EtaHighS), "s", 0, first(s.Why, "there is no forecast"))
	f.interval("resistance", float64(p.RthKPerW), float64(p.RthLowKPerW), float64(p.RthHighKPerW), "K/W", 2, why)
	f.number("resistance spread", 100*float64(p.RthHighKPerW-p.RthLowKPerW)/float64(p.RthKPerW), "%", 0, why)
}

// watts is what taking a part off the resistance adds to the power at the same
// temperature: P = rise / R, at the limit of this recording. The ends pair the ends of both
// resistances, which is wider than either alone.
func (f facts) watts(name string, r analysis.Result, off, low, high float64) {
	p := r.ThermalPath
	rise := float64(r.Headroom.LimitC - p.ReferenceC)
	more := func(off, rth float64) float64 { return rise/(rth-math.Min(off, 0.95*rth)) - rise/rth }
	f.interval(name, more(off, float64(p.RthKPerW)), more(low, float64(p.RthHighKPerW)), more(high, float64(p.RthLowKPerW)), "W", 1,
		first(p.Why, "the path is not known"))
}

func sustained(r analysis.Result) float64 {
	for _, n := range []analysis.Number{r.Steady.PowerW, r.PowerStep.LongW, r.PowerLimit.LongW} {
		if n.Known() && n > 0 {
			return float64(n)
		}
	}
	return math.NaN()
}

// room is what the cooler leaves at the limit, and the steps towards it.
func (f facts) room(r analysis.Result) {
	h, s := r.Headroom, r.Steady
	why := first(h.Why, "the headroom is not known")
	power := sustained(r)
	low, high := float64(h.LimitC-s.ForecastHighC), float64(h.LimitC-s.ForecastLowC)
	f.interval("margin", float64(h.MarginK), low, high, "K", 0, why)
	f.interval("over", -float64(h.MarginK), -high, -low, "K", 0, why)
	f.number("limit", float64(h.LimitC), "°C", 0, why)
	f.interval("carried", float64(h.PowerW), float64(h.PowerLowW), float64(h.PowerHighW), "W", 0, why)
	f.interval("carried more", float64(h.PowerW)-power, float64(h.PowerLowW)-power, float64(h.PowerHighW)-power, "W", 0, why)
	f.number("next step", math.Floor(float64(h.NextStepW)), "W", 0, why)
	// The second step may go a quarter beyond the first, but no farther than the power that
	// the cooler carries with 95 % certainty.
	two := math.Floor(math.Min(float64(h.PowerLowW), step*step*power))
	f.number("two steps", two, "W", 0, why)
	f.number("first rise", 100*(float64(h.NextStepW)/power-1), "%", 0, why)
	f.number("second rise", 100*(two/float64(h.NextStepW)-1), "%", 0, why)
	f.truth("limit assumed", h.LimitSource == "assumed")
	f.number("limit step", float64(r.PowerLimit.LongW), "W", 1, first(r.PowerLimit.Why, "the long-term limit was not seen"))
}

// beside is what stands beside the path: cores, a second source, a coolant.
func (f facts) beside(r analysis.Result) {
	h := r.HotSpot
	f["hottest core"] = finding{value: math.NaN(), word: h.Core, why: first(h.Why, "fewer than three cores are measured")}
	if h.Verdict != "undetermined" && h.Verdict != "" {
		f.truth("core stands out", h.Verdict == "one core stands out")
	}
	f.interval("core spread", float64(h.SpreadK), float64(h.SpreadLowK), float64(h.SpreadHighK), "K", 1, h.Why)
	f.interval("core spread half", float64(h.SpreadK)/2, float64(h.SpreadLowK)/2, float64(h.SpreadHighK)/2, "K", 1, h.Why)
	if s := r.SecondHeat; s.Known {
		p := float64(s.PowerW)
		f["second source"] = finding{value: math.NaN(), word: s.Name}
		f.interval("second heat", float64(s.SharedKPerW)*p, float64(s.SharedLowKPW)*p, float64(s.SharedHighKPW)*p, "K", 1, s.Why)
		f.number("second power", p, "W", 1, s.Why)
	}
	if c := r.Coolant; c.HeatW.Known() {
		f.truth("coolant differs", c.StandsOut)
		f.interval("coolant difference", float64(c.DifferenceW), float64(c.DifferenceLowW), float64(c.DifferenceHighW), "W", 1, c.Why)
	}
}

// burst is how long the burst lasts and whether it carries the job.
func (f facts) burst(r analysis.Result) {
	if p := r.PowerStep; p.Found {
		for _, l := range r.Load {
			if l.StartS <= p.TimeS && p.TimeS <= l.EndS {
				f.number("burst time", float64(p.TimeS-l.StartS), "s", 0, p.Why)
			}
		}
	}
	b := r.BurstWindow
	f.truth("job asked", b != nil)
	if b == nil {
		return
	}
	f.number("job", float64(b.JobS), "s", 0, "")
	f.number("job carried", math.NaN(), "", 0, first(b.Why, "how long the burst lasts is not known"))
	if b.CoveredNow != nil {
		f.truth("job carried", *b.CoveredNow)
	}
	if b.OverLimit != nil {
		f.truth("job too hot", *b.OverLimit)
	}
	f.number("burst from rest", float64(b.BurstS), "s", 0, b.Why)
	f.number("needed window", float64(b.NeededTimeConstant), "s", 0, b.Why)
	f.interval("job peak", float64(b.PeakC), float64(b.PeakLowC), float64(b.PeakHighC), "°C", 0, b.Why)
}

// trace is what only the recording itself shows.
func (f facts) trace(in Input) {
	if len(in.Result.Load) > 0 {
		f.number("rest before", float64(in.Result.Load[0].StartS), "s", 0, "")
	}
	if len(in.Result.Channels) > 0 {
		f.truth("power recorded", has(in.Result, telemetry.RolePower) || has(in.Result, telemetry.RoleEnergy))
		f.truth("die recorded", has(in.Result, telemetry.RoleDie))
	}
	t := in.Trace
	if t == nil || len(in.Result.Load) == 0 {
		return
	}
	die := t.Index(telemetry.RoleDie)
	if die < 0 {
		return
	}
	start := float64(in.Result.Load[0].StartS)
	var early, late []float64
	for i, at := range t.Time {
		switch v := t.Values[die][i]; {
		case at <= 5 && at < start:
			early = append(early, v)
		case at > start-5 && at < start:
			late = append(late, v)
		}
	}
	if cooled := stats.Median(early) - stats.Median(late); start >= 12 {
		f.number("cooled in rest", cooled, "K", 1, "")
	}
}

func has(r analysis.Result, role telemetry.Role) bool {
	for _, c := range r.Channels {
		if c.Role != nil && *c.Role == string(role) {
			return true
		}
	}
	return false
}

// earlier is what a comparison with an earlier setup shows.
func (f facts) earlier(c compare.Comparison) {
	f.number("setup changes", float64(len(c.SetupChanges)), "", 0, "")
	cooler := 0
	for _, s := range c.SetupChanges {
		if s.Key == "cooler" || s.Key == "fan" {
			cooler++
		}
	}
	f.truth("cooler changed", cooler > 0)
	p := c.ThermalPath
	f.interval("near ratio", float64(p.NearRatio), float64(p.NearLow), float64(p.NearHigh), "", 2, p.Why)
	f.interval("far ratio", float64(p.FarRatio), float64(p.FarLow), float64(p.FarHigh), "", 2, p.Why)
	f.number("runs wanted", math.NaN(), "", 0, "no figure of merit was compared")
	for _, m := range c.Metrics {
		if f.known("runs wanted") || !m.ChangePct.Known() {
			continue
		}
		f["figure"] = finding{value: math.NaN(), word: m.Name}
		f.interval("figure change", float64(m.ChangePct), float64(m.LowPct), float64(m.HighPct), "%", 1, m.Why)
		f.number("change size", math.Abs(float64(m.ChangePct)), "%", 1, m.Why)
		if m.Real != nil && !*m.Real {
			f.number("runs wanted", float64(m.RunsNeeded), "", 0, m.Why)
		}
	}
}
