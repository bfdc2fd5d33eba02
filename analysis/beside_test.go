package analysis_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"soakline/analysis"
	"soakline/analysis/say"
	"soakline/analysis/thermal"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// looped is a computed machine on a liquid loop: four cores, of which core 2 has extra
// kelvin per watt of its own, 1 L/min of water that carries all of the power, and a second
// chip on the same block that works from 500 to 900 s at 30 W; reciprocal terms by two stages.
// shared is the resistance common to both, K/W.
func looped(extra, shared float64) *telemetry.Trace {
	tr := &telemetry.Trace{Setup: []telemetry.Setting{{Key: "coolant", Value: "water"}}}
	put := func(name string, k quantity.Kind, r telemetry.Role) {
		tr.Channels = append(tr.Channels, telemetry.Channel{Key: name, Name: name, Quantity: k, Role: r})
	}
	put("package power", quantity.Power, telemetry.RolePower)
	put("die", quantity.Temperature, telemetry.RoleDie)
	put("room", quantity.Temperature, telemetry.RoleAmbient)
	for c := range 4 {
		put(fmt.Sprint("core ", c), quantity.Temperature, telemetry.RoleCore)
	}
	put("coolant flow", quantity.Flow, "")
	put("coolant inlet", quantity.Temperature, "")
	put("coolant outlet", quantity.Temperature, "")
	put("GPU power", quantity.Power, "")
	put("GPU temperature", quantity.Temperature, "")
	tr.Values = make([][]float64, len(tr.Channels))
	own, block, other := 5.0, 10.0, 5.0 // W, averages of the stages
	for i := range 18000 {
		t := float64(i) / 10
		p, g := 5.0, 5.0
		if t > 60 && t < 1400 {
			p = 90
		}
		if t > 500 && t < 900 {
			g = 30
		}
		own += 0.1 / 3 * (p - own)
		other += 0.1 / 4 * (g - other)
		block += 0.1 / 60 * (p + g - block)
		base := 24 + shared*block
		die := base + 0.25*own
		row := []float64{p, die + extra*own, 24, die, die - 0.3, die + extra*own, die + 0.2, 1, 24, 24 + (p+g)/69.4, g, base + 0.4*other}
		tr.Time = append(tr.Time, t)
		for c, v := range row {
			if tr.Channels[c].Quantity == quantity.Temperature {
				v = math.Round(10*(v+0.05*math.Sin(float64(17*i+c)))) / 10
			}
			tr.Values[c] = append(tr.Values[c], v)
		}
	}
	return tr
}

// TestBeside holds hot spot, coolant and second source against what made the trace.
func TestBeside(t *testing.T) {
	tr := looped(0.15, 0.12)
	old := analysis.Analyze(looped(0.05, 0.12), analysis.Options{})
	r := analysis.Analyze(tr, analysis.Options{Earlier: []analysis.Result{old}})
	h := r.HotSpot
	if h.Core != "core 2" || h.Verdict != "one core stands out" || h.Change != "grown" {
		t.Errorf("%s, %s, %s: %s", h.Core, h.Verdict, h.Change, h.Why)
	}
	inside(t, "hot spot K/W", h.LowKPerW, h.HighKPerW, 0.15)
	inside(t, "growth of the hot spot", h.ChangeLowKPerW, h.ChangeHiKPerW, 0.10)
	c := r.Coolant
	if !c.Possible || c.Liquid != "water" {
		t.Fatalf("no balance: %s", c.Why)
	}
	inside(t, "heat carried", c.HeatLowW, c.HeatHighW, 95)
	s := r.SecondHeat
	if s.Name != "GPU power" || !s.Known {
		t.Fatalf("second source %q: %s", s.Name, s.Why)
	}
	inside(t, "shared resistance", s.SharedLowKPW, s.SharedHighKPW, 0.12)
	if !strings.Contains(strings.Join(r.Warnings, "\n"), "second source of heat, GPU power") {
		t.Errorf("no warning of the second source: %v", r.Warnings)
	}
	for c := range tr.Channels { // the graphics chip follows the cores: nothing can part them
		if tr.Channels[c].Name == "GPU power" {
			for i := range tr.Time {
				tr.Values[c][i] = 0.3 * tr.Values[0][i]
			}
		}
	}
	if s := analysis.Analyze(tr, analysis.Options{}).SecondHeat; s.Known || s.Why == "" {
		t.Errorf("parted what moves together: %+v", s)
	}
}

// TestNothingBeside: without these channels the reasons say so.
func TestNothingBeside(t *testing.T) {
	r := analysis.Analyze(powerTrace(), analysis.Options{})
	if r.HotSpot.Why == "" || !strings.Contains(r.Coolant.Why, "not measured: flow") || r.SecondHeat.Why == "" || r.BurstWindow != nil || r.Detail != nil {
		t.Errorf("%+v %+v %+v", r.HotSpot, r.Coolant, r.SecondHeat)
	}
}

// TestBurstWindow: a job of 45 s at 64 W from 5 W of rest needs 45/ln(59/36) = 91.1 s of
// time constant (the closed form of limiter_step.csv).
func TestBurstWindow(t *testing.T) {
	_, tr, _ := rigTrace(t, "plate-again", 330*time.Second, false)
	r := analysis.Analyze(tr, analysis.Options{LimitC: 90, JobS: 45})
	w := r.BurstWindow
	if w == nil || w.CoveredNow == nil || *w.CoveredNow || w.OverLimit == nil {
		t.Fatalf("%+v", w)
	}
	about(t, "burst", w.BurstS, 16*math.Log(59.0/36), 0.3)
	about(t, "needed time constant", w.NeededTimeConstant, 45/math.Log(59.0/36), 0.02*91)
	if w.PeakC < 60 || w.PeakLowC >= w.PeakC || w.PeakHighC <= w.PeakC || !strings.Contains(w.Caution, "maker's limits") {
		t.Errorf("peak %.1f (%.1f to %.1f) degC, %q", w.PeakC, w.PeakLowC, w.PeakHighC, w.Caution)
	}
	line := say.Of(r).Text
	if !strings.Contains(line, "A job of 45 s at burst power needs a time constant of about") {
		t.Error(line)
	}
	if short := analysis.Analyze(tr, analysis.Options{LimitC: 90, JobS: 5}).BurstWindow; short.CoveredNow == nil || !*short.CoveredNow {
		t.Error("a burst of 7.9 s carries a job of 5 s")
	}
	if say.Of(analysis.Analyze(tr, analysis.Options{LimitC: 90})).Text == line {
		t.Error("the sentence stands there unasked")
	}
}

// TestDetail: the forms of the path agree with each other: the impedance ends at the sum of
// the stages, the ladder gives the stages back, sums of resistance are the same.
func TestDetail(t *testing.T) {
	_, tr, _ := rigTrace(t, "fan-cooler", 330*time.Second, false)
	d := analysis.Analyze(tr, analysis.Options{Detail: true}).Detail
	if d == nil || d.Why != "" || len(d.Spectrum) == 0 || len(d.Cauer) != len(d.Foster) {
		t.Fatalf("%+v", d)
	}
	var f thermal.Foster
	var c thermal.Cauer
	for _, s := range d.Foster {
		f.R, f.Tau = append(f.R, float64(s.RKPerW)), append(f.Tau, float64(s.TauS))
	}
	for _, s := range d.Cauer {
		c.R, c.C = append(c.R, float64(s.RKPerW)), append(c.C, float64(s.CJPerK))
	}
	about(t, "sum of the ladder", analysis.Number(c.Total()), f.Total(), 1e-6)
	last := d.Impedance[len(d.Impedance)-1]
	about(t, "impedance at the end", last.ZKPerW, f.Total(), 0.01*f.Total())
	for i, p := range d.Impedance {
		about(t, "impedance", p.ZKPerW, f.Z(float64(p.TS)), 1e-9)
		if i > 0 && p.ZKPerW <= d.Impedance[i-1].ZKPerW || p.LowKPerW > p.ZKPerW || p.HighKPerW < p.ZKPerW {
			t.Errorf("impedance %v", p)
		}
	}
	for i := 1; i < len(d.Structure); i++ {
		if d.Structure[i].RKPerW <= d.Structure[i-1].RKPerW || d.Structure[i].CJPerK <= d.Structure[i-1].CJPerK {
			t.Errorf("the structure function falls: %v", d.Structure)
		}
	}
	if n := len(d.Impedance) + len(d.Spectrum) + len(d.Structure); n > 200 {
		t.Errorf("%d points", n)
	}
}

// TestBudget: the shares of the counted components make up the interval.
func TestBudget(t *testing.T) {
	_, tr, _ := rigTrace(t, "fan-cooler", 330*time.Second, false)
	p := analysis.Analyze(tr, analysis.Options{}).ThermalPath
	sum, v := 0.0, 0.0
	for _, b := range p.Budget {
		if !b.Common {
			sum, v = sum+float64(b.SharePct), v+float64(b.UKPerW*b.UKPerW)
		}
	}
	about(t, "shares", analysis.Number(sum), 100, 1e-6)
	about(t, "combined uncertainty", analysis.Number(math.Sqrt(v)), float64(p.RthHighKPerW-p.RthLowKPerW)/2/1.6449, 1e-9)
	if len(p.Budget) < 4 {
		t.Errorf("budget %v", p.Budget)
	}
}
