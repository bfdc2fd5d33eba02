package balance

import (
	"math"
	"strings"
	"testing"

	"soakline/analysis/coolant"
	"soakline/analysis/series"
)

// loop makes blocks of a loop at a flow that carries watts, by the property of the liquid,
// W per L/min and K, taken from a table by hand; the two sensors differ by off kelvin.
func loop(n int, flow, watts, perKelvin, off, warming float64) []series.TrackBlock {
	var out []series.TrackBlock
	for i := range n {
		in := 29.7 + warming*float64(2*i)
		out = append(out, series.TrackBlock{From: float64(2 * i), To: float64(2*i + 2),
			Mean: []float32{float32(flow), float32(in), float32(in + watts/(flow*perKelvin) + off)}})
	}
	return out
}

// TestBalance: water at 30 degC carries 69.36 W per L/min and kelvin (IAPWS SR6-08, IAPWS-95:
// water_properties.csv), 30 % ethylene glycol 64.95 and 30 % propylene 66.66 (Melinder
// 2010: coolant_mixtures.csv).
func TestBalance(t *testing.T) {
	for _, c := range []struct {
		name      string
		perKelvin float64
	}{{"water", 69.36}, {"", 69.36}, {"30 % ethylene glycol", 64.95}, {"Propylene glycol 0.3", 66.66}} {
		liquid, err := Parse(c.name)
		if err != nil {
			t.Fatal(err)
		}
		l := Load{At: loop(120, 0.8, 150, c.perKelvin, 0.25, 0), Rest: loop(20, 0.8, 6, c.perKelvin, 0.25, 0), Flow: 0, In: 1, Out: 2,
			Step: 0.01, Power: 155, RestW: 6, Liquid: liquid}
		b := Judge(l, Defaults())
		if !b.Possible || b.Why != "" {
			t.Fatalf("%s: %s", c.name, b.Why)
		}
		if math.Abs(b.HeatW-150) > 1.5 || b.LowW > 150 || b.HighW < 150 {
			t.Errorf("%s: %.1f W (%.1f to %.1f), want 150", c.name, b.HeatW, b.LowW, b.HighW)
		}
		if math.Abs(b.ZeroedK-0.25) > 0.02 {
			t.Errorf("%s: the sensors differ by %.3f K, want 0.25", c.name, b.ZeroedK)
		}
		if b.StandsOut || b.DiffLow > 5 || b.DiffHi < 5 {
			t.Errorf("%s: difference %.1f W (%.1f to %.1f) against 5 W", c.name, b.DiffW, b.DiffLow, b.DiffHi)
		}
		l.Power = 190
		if b = Judge(l, Defaults()); !b.StandsOut {
			t.Errorf("%s: 40 W that leave another way do not stand out: %.1f +- %.1f W", c.name, b.DiffW, (b.DiffHi-b.DiffLow)/2)
		}
	}
}

// TestConditions: what keeps a balance from being drawn is named.
func TestConditions(t *testing.T) {
	base := func() Load {
		return Load{At: loop(120, 1, 150, 69.36, 0, 0), Flow: 0, In: 1, Out: 2, Step: 0.01, Power: 155, RestW: math.NaN()}
	}
	for name, c := range map[string]struct {
		change func(*Load)
		why    string
	}{
		"short":   {func(l *Load) { l.At = l.At[:9] }, "too short"},
		"no flow": {func(l *Load) { l.At = loop(120, 0, 0, 69.36, 0, 0) }, "no flow"},
		"small":   {func(l *Load) { l.At = loop(120, 1, 20, 69.36, 0, 0) }, "no balance is possible"},
		"warming": {func(l *Load) { l.At = loop(120, 1, 150, 69.36, 0, 0.002) }, "still warming"},
		"coarse":  {func(l *Load) { l.Step = 1 }, "no balance is possible"},
		"outside": {func(l *Load) { l.Liquid = coolant.Coolant{Liquid: coolant.EthyleneGlycol, Fraction: 0.8} }, "outside the table"},
	} {
		l := base()
		c.change(&l)
		if b := Judge(l, Defaults()); b.Possible || !strings.Contains(b.Why, c.why) {
			t.Errorf("%s: possible %v, %q lacks %q", name, b.Possible, b.Why, c.why)
		}
	}
	for _, bad := range []string{"oil", "glycol", "ethylene glycol"} {
		if _, err := Parse(bad); err == nil {
			t.Errorf("%q is taken as a coolant", bad)
		}
	}
	if got := Unknown(true, false, false); got != "not measured: coolant before the cold plate, coolant after it" {
		t.Error(got)
	}
}
