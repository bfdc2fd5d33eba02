package numeric

import (
	"math"
	"testing"

	cv "soakline/testdata/checkvalues"
)

// Fixed points of leakage and temperature by Lambert's W (Corless et al. 1996), at the
// head of the file, and the same by bracketing the root.
func TestLambertAndRootOnLeakage(t *testing.T) {
	for _, r := range cv.Read(t, "headroom_leakage.csv") {
		ref, res, pd, p0, t0, tb := r.Num("tref_c"), r.Num("r_k_per_w"), r.Num("pd_w"), r.Num("p0_w"), r.Num("t0_c"), r.Num("tb_k")
		got := ref + res*pd - tb*LambertW0(-(res*p0/tb)*math.Exp((ref+res*pd-t0)/tb))
		near(t, "T by W", got, r.Num("t_c"), 1e-9)
		crit := t0 + tb*math.Log(tb/(res*p0))
		near(t, "T critical", crit, r.Num("t_crit_c"), 1e-8)
		root := Root(func(x float64) float64 { return ref + res*(pd+p0*math.Exp((x-t0)/tb)) - x }, ref, crit, 1e-10)
		near(t, "T by root", root, r.Num("t_c"), 1e-9)
	}
	if !math.IsNaN(LambertW0(-0.5)) || LambertW0(0) != 0 {
		t.Error("W0 outside its range, or at 0")
	}
	near(t, "W0(e)", LambertW0(math.E), 1, 1e-14) // by definition
	for _, x := range []float64{-1 / math.E, -0.3678, -0.1, 1e-8, 2, 1e5, 1e300} {
		if w := LambertW0(x); math.Abs(w+math.Log(w/x)) > 1e-7 && x > 0 || x < 0 && math.Abs(w*math.Exp(w)-x) > 1e-12 {
			t.Errorf("W0(%g) = %g", x, w)
		}
	}
}

func TestRootNeedsASign(t *testing.T) {
	if !math.IsNaN(Root(func(x float64) float64 { return x*x + 1 }, -1, 1, 1e-9)) {
		t.Error("no sign change must give NaN")
	}
	if x := Root(math.Cos, 0, 3, 1e-14); math.Abs(x-math.Pi/2) > 1e-12 {
		t.Errorf("cos: %g", x)
	}
}
