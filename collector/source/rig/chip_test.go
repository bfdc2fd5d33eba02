package rig

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"soakline/testdata/checkvalues"
)

// Leakage that heats its own die, against the fixed points of headroom_leakage.csv:
// T = Tref + R (Pd + P0 exp((T-T0)/Tb)), closed by the Lambert W function (Corless et
// al. 1996, Adv. Comput. Math. 5:329; leakage after Liao, He, Lepak 2005, IEEE TCAD
// 24:1042). The ladder and the chip's power are run in time until they stand still; a
// little above the critical power they must run away.
func TestLeakageFixedPoint(t *testing.T) {
	for _, row := range checkvalues.Read(t, "headroom_leakage.csv") {
		settle := func(pd float64) (float64, float64) {
			chip := Chip{FloorMHz: 1, CeilingMHz: 2, FloorV: 1, CeilingV: 1, BaseW: pd,
				LeakW: row.Num("p0_w"), LeakC: row.Num("t0_c"), LeakV: 1, LeakSpreadK: row.Num("tb_k")}
			l, _ := newLadder([]float64{row.Num("r_k_per_w")}, []float64{1})
			l.t[0] = row.Num("tref_c")
			p := 0.0
			for i := 0; i < 200000 && l.t[0] < 1000; i++ {
				p = chip.power(1, 0, chip.Leakage(l.t[0]))
				l.step(0.01, p, row.Num("tref_c"))
			}
			return l.t[0], p
		}
		dieC, p := settle(row.Num("pd_w"))
		near(t, "temperature", dieC, row.Num("t_c"), 1e-7)
		near(t, "total power", p, row.Num("p_total_w"), 1e-7)
		if dieC, _ := settle(0.999 * row.Num("pd_crit_w")); dieC > row.Num("t_crit_c") {
			t.Errorf("just below the critical %s W it ends at %.1f degC, above %s", row["pd_crit_w"], dieC, row["t_crit_c"])
		}
		if dieC, _ := settle(1.001 * row.Num("pd_crit_w")); dieC < 1000 {
			t.Errorf("just above the critical %s W it stays at %.1f degC", row["pd_crit_w"], dieC)
		}
	}
}

// The clock that is found draws what was allowed, or stands at an end of the range.
func TestClockForPower(t *testing.T) {
	chip := Default().Chip
	rapid.Check(t, func(t *rapid.T) {
		allowed := rapid.Float64Range(0, 120).Draw(t, "allowed")
		activity := rapid.Float64Range(0.3, 1).Draw(t, "activity")
		leak := chip.Leakage(rapid.Float64Range(0, 110).Draw(t, "die"))
		near := rapid.Float64Range(chip.FloorMHz, chip.CeilingMHz).Draw(t, "near")
		f := chip.clockFor(allowed, near, activity, leak)
		p := chip.power(f, activity, leak)
		switch {
		case f == chip.CeilingMHz && p <= allowed+1e-6:
		case f == chip.FloorMHz && p >= allowed-1e-6:
		case math.Abs(p-allowed) < 1e-4:
		default:
			t.Fatalf("allowed %g W: %g MHz draws %g W", allowed, f, p)
		}
	})
}
