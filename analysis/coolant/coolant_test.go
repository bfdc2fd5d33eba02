package coolant

import (
	"math"
	"strings"
	"testing"

	cv "soakline/testdata/checkvalues"
)

// tanaka is the CIPM density of water, 0 to 40 degC: Tanaka, Girard, Davis, Peuto,
// Bignell 2001 (Metrologia 38:301); coefficients stand at the head of the file.
func tanaka(t float64) float64 {
	return 999.974950 * (1 - (t-3.983035)*(t-3.983035)*(t+301.797)/(522528.9*(t+69.34881)))
}

func TestWater(t *testing.T) {
	for x := 5.5; x < 40; x += 1.7 {
		rho, _, err := Coolant{}.Properties(x)
		if err != nil || math.Abs(rho/tanaka(x)-1) > 2e-5 {
			t.Errorf("%g degC: %g, Tanaka %g, %v", x, rho, tanaka(x), err)
		}
	}
	for _, r := range cv.Read(t, "water_properties.csv") {
		rho, cp, err := Coolant{Liquid: Water}.Properties(r.Num("t_c"))
		if err != nil || math.Abs(rho*cp/60000/r.Num("w_per_lmin_k")-1) > 1e-5 {
			t.Errorf("%s degC: %g W per L/min and K, want %s", r["t_c"], rho*cp/60000, r["w_per_lmin_k"])
		}
	}
	// The package IAPWS-95 is computed by an independent equation: 300 K, 996.556 kg/m3
	// and 4.181 kJ/(kg K) (the release's own point for density).
	rho, _, _ := Coolant{}.Properties(26.85)
	if math.Abs(rho/996.556-1) > 5e-5 {
		t.Errorf("300 K: %g kg/m3", rho)
	}
}

func TestGlycols(t *testing.T) {
	for _, r := range cv.Read(t, "coolant_mixtures.csv") {
		rho, cp, err := Coolant{Liquid(r["glycol"]), r.Num("mass_frac")}.Properties(r.Num("t_c"))
		if err != nil || math.Abs(rho*cp/60000/r.Num("w_per_lmin_k")-1) > 5e-5 {
			t.Errorf("%v: %g %v", r, rho*cp/60000, err)
		}
	}
	for _, c := range []Coolant{{EthyleneGlycol, 0.7}, {EthyleneGlycol, 0.05}, {"oil", 0}} {
		if _, _, err := c.Properties(30); err == nil {
			t.Errorf("%v must be refused", c)
		}
	}
	if _, _, err := (Coolant{EthyleneGlycol, 0.3}).Properties(60); err == nil {
		t.Error("60 degC lies outside the table")
	}
}

// By hand: 1 L/min of water at 30 degC carries 69.36 W a kelvin; 42 W is 0.6 K, of which
// a pair good to 0.1 K leaves 17 %.
func TestCarried(t *testing.T) {
	b := Coolant{}.Carried(Reading{FlowLMin: 1, OutC: 30.3, InC: 29.7, MeterC: 30, PairU: 0.1})
	if math.Abs(b.HeatW-0.6*69.3619) > 0.01 || math.Abs(b.U/b.HeatW-0.1667) > 0.001 {
		t.Errorf("%+v", b)
	}
	if !b.Possible {
		t.Error("six times the uncertainty is a balance")
	}
	b = Coolant{}.Carried(Reading{FlowLMin: 1, OutC: 30.3, InC: 29.7, MeterC: 30, PairU: 0.5})
	if b.Possible || !strings.Contains(b.Why, "no balance is possible") {
		t.Errorf("%+v", b)
	}
	if b = (Coolant{}).Carried(Reading{}); b.Possible || b.Why == "" || !math.IsNaN(b.HeatW) {
		t.Errorf("no flow: %+v", b)
	}
	b = Coolant{}.Carried(Reading{FlowLMin: 2, FlowU: 0.02, OutC: 32, InC: 30, OffsetK: 0.5, PairU: 0.05})
	if want := 2 * 1.5 * 69.36; math.Abs(b.HeatW/want-1) > 0.001 { // 2 K less the offset of 0.5 K
		t.Errorf("%g W, want %g", b.HeatW, want)
	}
	if d, u, out := b.Difference(260, 2); !out || math.Abs(d-(260-b.HeatW)) > 1e-9 || u < 2 {
		t.Errorf("50 W short must stand out: %g +- %g", d, u)
	}
	if p := b.Power(Storage{CapacityJK: 4000, SlopeKS: 0.01}); p.Possible || math.Abs(p.HeatW-b.HeatW-40) > 1e-9 {
		t.Errorf("a warming loop is no balance: %+v", p)
	}
	if p := b.Power(Storage{LossWK: 1, LoopC: 31, RoomC: 25}); !p.Possible || math.Abs(p.HeatW-b.HeatW-6) > 1e-9 {
		t.Errorf("%+v", p)
	}
	if Delay(0.25, 0.5) != 30 || !math.IsInf(Delay(1, 0), 1) {
		t.Error("a quarter of a litre at half a litre a minute takes half a minute")
	}
}
