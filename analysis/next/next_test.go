package next

import (
	"math"
	"slices"
	"strings"
	"testing"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/analysis/stats"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

func role(r telemetry.Role) *string { s := string(r); return &s }

func yes(v bool) *bool { return &v }

// quietMachine is a settled run about which there is nothing to advise: it is held by
// a power limit, with no more than a kelvin or two of room, no rule of which fires by
// accident. The tests of the rules change one thing of it.
func quietMachine() Input {
	u := analysis.Unknown()
	r := analysis.Result{
		Channels: []analysis.ChannelInfo{{Name: "p", Role: role(telemetry.RolePower)}, {Name: "d", Role: role(telemetry.RoleDie)}},
		Load:     []analysis.Span{{StartS: 30, EndS: 630}},
		Limiter:  []analysis.LimiterSpan{{StartS: 0, EndS: 30, Kind: analysis.Idle, Confidence: 1}, {StartS: 30, EndS: 630, Kind: "none", Confidence: 0.9}},
		Steady:   analysis.Steady{Reached: true, PowerW: 30, TemperatureC: 60, ForecastC: 60, ForecastLowC: 59.5, ForecastHighC: 60.5},
		ThermalPath: analysis.ThermalPath{ReferenceC: 20, ReferenceSource: "ambient temperature", RthKPerW: 1.3333, RthLowKPerW: 1.3, RthHighKPerW: 1.37,
			NearKPerW: 0.5333, NearLowKPerW: 0.5, NearHighKPerW: 0.56, FarKPerW: 0.8, FarLowKPerW: 0.78, FarHighKPerW: 0.83},
		Headroom: analysis.Headroom{LimitC: 90, LimitSource: "given", MarginK: 30, PowerW: 52, PowerLowW: 48, PowerHighW: 60, NextStepW: 37.5, MarginW: 22},
		HotSpot:  analysis.HotSpot{SpreadK: u, SpreadLowK: u, SpreadHighK: u}, Coolant: analysis.Coolant{HeatW: u},
		PowerStep: analysis.PowerStep{LongW: u}, PowerLimit: analysis.PowerLimit{LongW: u},
	}
	return Input{Result: r, Runs: 3}
}

func (in *Input) held(k analysis.Kind) { in.holding(k, 1) }

func (in *Input) holding(k analysis.Kind, share float64) {
	in.Result.Limiter = []analysis.LimiterSpan{{StartS: 30, EndS: analysis.Number(30 + 600*share), Kind: k, Confidence: 0.9},
		{StartS: analysis.Number(30 + 600*share), EndS: 630, Kind: "none", Confidence: 0.9}}
}

func (in *Input) poorContact() {
	p := &in.Result.ThermalPath
	p.NearKPerW, p.NearLowKPerW, p.NearHighKPerW = 1, 0.9, 1.1
	p.RthKPerW, p.RthLowKPerW, p.RthHighKPerW = 1.8, 1.75, 1.85
}

func (in *Input) against() *compare.Comparison {
	u := analysis.Unknown()
	in.Earlier = &compare.Comparison{ThermalPath: compare.ThermalPath{NearRatio: u, NearLow: u, NearHigh: u, FarRatio: u, FarLow: u, FarHigh: u}}
	return in.Earlier
}

// cases fires every rule once, and says of a machine near by that it must not.
var cases = map[string]struct{ fires, not func(*Input) }{
	"no power":           {func(in *Input) { in.Result.Channels = in.Result.Channels[1:] }, nil},
	"no die temperature": {func(in *Input) { in.Result.Channels = in.Result.Channels[:1] }, nil},
	"no load":            {func(in *Input) { in.Result.Load = nil }, nil},
	"heat, contact first": {func(in *Input) { in.held(analysis.Thermal); in.poorContact() },
		func(in *Input) { in.held(analysis.Thermal) }},
	"heat, cooler first": {func(in *Input) { in.holding(analysis.Thermal, 0.2) }, func(in *Input) { in.holding(analysis.Thermal, 0.05) }},
	"over the limit": {func(in *Input) { h := &in.Result.Headroom; h.LimitC, h.MarginK = 58, -2 },
		func(in *Input) { h := &in.Result.Headroom; h.LimitC, h.MarginK = 59.8, -0.2 }},
	"power, two steps": {func(in *Input) { in.held(analysis.PowerLong) }, func(in *Input) { in.holding(analysis.PowerLong, 0.4) }},
	"power, one step": {func(in *Input) { in.held(analysis.PowerLong); in.Result.Headroom.PowerLowW = 37.5 },
		func(in *Input) { in.held(analysis.PowerLong) }},
	"no room, contact first": {func(in *Input) {
		in.held(analysis.PowerLong)
		in.Result.Headroom.NextStepW = 30.5
		in.poorContact()
	}, func(in *Input) { in.held(analysis.PowerLong); in.Result.Headroom.NextStepW = 30.5 }},
	"no room, cooler first": {func(in *Input) { in.held(analysis.PowerLong); in.Result.Headroom.NextStepW = 30.5 },
		func(in *Input) { in.held(analysis.PowerLong) }},
	"clock ceiling":  {func(in *Input) { in.held(analysis.Clock) }, func(in *Input) { in.holding(analysis.Clock, 0.4) }},
	"current limit":  {func(in *Input) { in.held(analysis.Current) }, func(in *Input) { in.holding(analysis.Current, 0.2) }},
	"another limit":  {func(in *Input) { in.held(analysis.Other) }, func(in *Input) { in.holding(analysis.Other, 0.2) }},
	"uneven contact": {func(in *Input) { in.Result.HotSpot = spread("one core stands out") }, func(in *Input) { in.Result.HotSpot = spread("slightly uneven") }},
	"contact got worse": {func(in *Input) { p := &in.against().ThermalPath; p.NearRatio, p.NearLow, p.NearHigh = 2, 1.8, 2.2 },
		func(in *Input) { p := &in.against().ThermalPath; p.NearRatio, p.NearLow, p.NearHigh = 1.3, 1.1, 1.5 }},
	"far part got worse": {func(in *Input) { p := &in.against().ThermalPath; p.FarRatio, p.FarLow, p.FarHigh = 2, 1.8, 2.2 },
		func(in *Input) {
			c := in.against()
			c.ThermalPath.FarRatio, c.ThermalPath.FarLow, c.ThermalPath.FarHigh = 2, 1.8, 2.2
			c.SetupChanges = []compare.SettingChange{{Key: "cooler", A: "fan", B: "plate"}}
		}},
	"second source": {func(in *Input) {
		in.Result.SecondHeat = analysis.SecondHeat{Name: "graphics power", PowerW: 10, SharedKPerW: 0.4, SharedLowKPW: 0.3, SharedHighKPW: 0.5, Known: true}
	}, func(in *Input) {
		in.Result.SecondHeat = analysis.SecondHeat{Name: "graphics power", PowerW: 10, SharedKPerW: 0.4, SharedLowKPW: 0.1, SharedHighKPW: 0.7, Known: true}
	}},
	"longer window":  {func(in *Input) { in.job(false, false) }, func(in *Input) { in.job(true, false) }},
	"window too hot": {func(in *Input) { in.job(false, true) }, func(in *Input) { in.job(false, false) }},
	"burst question": {func(in *Input) {
		in.held(analysis.PowerLong)
		in.Result.PowerStep.Found, in.Result.PowerStep.TimeS = true, 42
	}, func(in *Input) { in.held(analysis.PowerLong) }},
	"heat balance": {func(in *Input) { in.Result.Coolant = analysis.Coolant{HeatW: 20, DifferenceW: 9, StandsOut: true} },
		func(in *Input) { in.Result.Coolant = analysis.Coolant{HeatW: 20, DifferenceW: 9} }},
	"many changes": {func(in *Input) { in.against().SetupChanges = make([]compare.SettingChange, 2) },
		func(in *Input) { in.against().SetupChanges = make([]compare.SettingChange, 1) }},
	"not settled": {func(in *Input) {
		s := &in.Result.Steady
		s.Reached, s.EtaS, s.EtaLowS, s.EtaHighS = false, 100, 80, 130
	},
		func(in *Input) { s := &in.Result.Steady; s.Reached, s.EtaS = false, 3 }},
	"reference unmeasured": {func(in *Input) {
		in.Result.ThermalPath.ReferenceSource = "idle temperature before the load, less its own rise"
	}, nil},
	"warm start":       {func(in *Input) { in.trace(3) }, func(in *Input) { in.trace(0.5) }},
	"short rest":       {func(in *Input) { in.Result.Load[0].StartS = 10 }, nil},
	"path known badly": {func(in *Input) { in.Result.ThermalPath.RthLowKPerW, in.Result.ThermalPath.RthHighKPerW = 1, 1.7 }, nil},
	"limit assumed":    {func(in *Input) { in.Result.Headroom.LimitSource = "assumed" }, func(in *Input) { in.Result.Headroom.LimitSource = "reported" }},
	"unsure limiter": {func(in *Input) { in.held(analysis.PowerLong); in.Result.Limiter[0].Confidence = 0.5 },
		func(in *Input) { in.held(analysis.PowerLong) }},
	"more runs":  {func(in *Input) { in.against().Metrics = []compare.Metric{chance(false)} }, func(in *Input) { in.against().Metrics = []compare.Metric{chance(true)} }},
	"single run": {func(in *Input) { in.Runs = 0 }, func(in *Input) { in.Runs = 2 }},
}

func spread(verdict string) analysis.HotSpot {
	return analysis.HotSpot{Core: "core 2", SpreadK: 9, SpreadLowK: 8, SpreadHighK: 10, Verdict: verdict}
}

func chance(real bool) compare.Metric {
	return compare.Metric{Name: "score", NA: 3, NB: 3, ChangePct: 2, LowPct: -1, HighPct: 5, Real: &real, RunsNeeded: 9}
}

func (in *Input) job(carried, hot bool) {
	in.Result.BurstWindow = &analysis.BurstWindow{JobS: 60, CoveredNow: yes(carried), BurstS: 20, NeededTimeConstant: 50, PeakC: 80, PeakLowC: 78, PeakHighC: 82, OverLimit: yes(hot)}
}

// trace is a recording whose die cools by so many kelvin in the rest before the load.
func (in *Input) trace(kelvin float64) {
	in.Trace = &telemetry.Trace{Channels: []telemetry.Channel{{Name: "die", Quantity: quantity.Temperature, Role: telemetry.RoleDie}}, Values: make([][]float64, 1)}
	for i := range 60 {
		in.Trace.Time = append(in.Trace.Time, float64(i))
		in.Trace.Values[0] = append(in.Trace.Values[0], 40-kelvin*math.Min(1, float64(i)/20))
	}
}

func find(l List, rule string) (Entry, bool) {
	i := slices.IndexFunc(l.Entries, func(e Entry) bool { return e.Rule == rule && e.Kind != Undetermined })
	if i < 0 {
		return Entry{}, false
	}
	return l.Entries[i], true
}

func TestRules(t *testing.T) {
	if l := Of(quietMachine()); len(l.Entries) != 0 {
		t.Fatalf("the quiet machine gets advice: %+v", l.Entries)
	}
	for _, r := range rules {
		c, ok := cases[r.Name]
		if !ok {
			t.Errorf("%s: the rule has no test", r.Name)
			continue
		}
		in := quietMachine()
		c.fires(&in)
		e, ok := find(Of(in), r.Name)
		switch {
		case !ok:
			t.Errorf("%s does not fire: %+v", r.Name, Of(in).Entries)
		case strings.ContainsAny(e.Text+e.Evidence, "{}") || strings.Contains(e.Text+e.Evidence, "NaN"):
			t.Errorf("%s: %s %s", r.Name, e.Text, e.Evidence)
		case r.Gain != "" && (e.Gain == nil || !(e.Gain.Low <= e.Gain.Value && e.Gain.Value <= e.Gain.High)):
			t.Errorf("%s: gain %+v", r.Name, e.Gain)
		case r.Kind == Change && r.Caution == "" && r.Name != "second source":
			t.Errorf("%s: a change without a caution", r.Name)
		}
		if c.not == nil {
			continue
		}
		in = quietMachine()
		c.not(&in)
		if _, ok := find(Of(in), r.Name); ok {
			t.Errorf("%s fires where it must not", r.Name)
		}
	}
}

// The figures of an entry follow from the resistances by hand: near 1 of 1.8 K/W, 70 K to
// the limit. Half of the near part less: 70/(1.8-0.5) - 70/1.8 = 14.96 W.
func TestGain(t *testing.T) {
	in := quietMachine()
	in.held(analysis.Thermal)
	in.poorContact()
	e, _ := find(Of(in), "heat, contact first")
	if e.Gain == nil || math.Abs(float64(e.Gain.Value)-14.957) > 0.01 || e.Gain.Unit != "W" {
		t.Errorf("gain %+v, want 14.96 W", e.Gain)
	}
	if !strings.Contains(e.Evidence, "100 % of the time") || !strings.Contains(e.Evidence, "56 % (52 to 59)") {
		t.Error(e.Evidence) // 1/1.8; 0.9/(0.9+0.83), 1.1/(1.1+0.78)
	}
}

// Two steps of a quarter from 30 W end at 46.9 W, but not beyond what the cooler surely
// carries.
func TestSteps(t *testing.T) {
	for _, c := range []struct {
		low  float64
		want string
	}{{48, "from 30.0 W to 46 W in two steps, first to 37 W"}, {43.3, "from 30.0 W to 43 W in two steps, first to 37 W"}} {
		in := quietMachine()
		in.held(analysis.PowerLong)
		in.Result.Headroom.PowerLowW = analysis.Number(c.low)
		if e, _ := find(Of(in), "power, two steps"); !strings.Contains(e.Text, c.want) {
			t.Errorf("%q, want %q", e.Text, c.want)
		}
	}
}

// What is not known leaves an honest question, after all that can be said.
func TestUndetermined(t *testing.T) {
	in := quietMachine()
	in.held(analysis.Thermal)
	u := analysis.Unknown()
	in.Result.ThermalPath = analysis.ThermalPath{RthKPerW: u, NearKPerW: u, NearLowKPerW: u, NearHighKPerW: u, FarKPerW: u, FarLowKPerW: u, FarHighKPerW: u,
		RthLowKPerW: u, RthHighKPerW: u, ReferenceC: u, Why: "the load was too short"}
	in.Runs = 1
	l := Of(in)
	last := l.Entries[len(l.Entries)-1]
	if last.Kind != Undetermined || last.Rule != "heat, contact first" || last.Evidence != "Undetermined, because the load was too short." {
		t.Errorf("%+v", l.Entries)
	}
	for i, e := range l.Entries[1:] {
		if e.Kind != Undetermined && e.Rank > l.Entries[i].Rank {
			t.Errorf("order: %+v", l.Entries)
		}
	}
}

// Every finding that a rule names is one that the findings know by name: a misspelt one
// would never fire.
func TestNames(t *testing.T) {
	in := quietMachine()
	in.against().Metrics = []compare.Metric{chance(false)}
	in.job(false, false)
	in.trace(1)
	in.Result.HotSpot = spread("one core stands out")
	in.Result.SecondHeat.Known = true
	in.Result.Coolant.HeatW = 1
	in.Result.PowerStep.Found, in.Result.PowerStep.TimeS = true, 42
	f := findings(in)
	for _, r := range rules {
		names := named(r.Text + r.Evidence)
		for _, c := range r.When {
			names = append(names, c.Finding)
		}
		if r.Gain != "" {
			names = append(names, r.Gain)
		}
		for _, n := range names {
			if _, ok := f[n]; !ok {
				t.Errorf("%s: no finding is called %q", r.Name, n)
			}
		}
	}
}

// The sentence about three runs is what the t test needs (Cohen 1988, Statistical Power
// Analysis: two samples of 3, power 0.8, alpha 0.05).
func TestThreeRuns(t *testing.T) {
	if d := stats.Detectable(3, 0.8, 0.05); math.Abs(d-3.1) > 0.05 {
		t.Errorf("three runs a side show %.3f times the scatter, not 3.1", d)
	}
}

// What holds the machine comes before what would make the answers better.
func TestOrder(t *testing.T) {
	in := quietMachine()
	in.held(analysis.PowerLong)
	in.Runs = 1
	in.Result.Load[0].StartS = 10
	in.Result.Headroom.LimitSource = "assumed"
	var got []string
	for _, e := range Of(in).Entries {
		got = append(got, e.Rule)
	}
	if want := "power, two steps|short rest|limit assumed|single run"; strings.Join(got, "|") != want {
		t.Errorf("%q, want %q", strings.Join(got, "|"), want)
	}
}
