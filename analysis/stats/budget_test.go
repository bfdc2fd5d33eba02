package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	cv "soakline/testdata/checkvalues"
)

// figures of one example of JCGM 100 or 101: published and computed.
func figures(t *testing.T, example string) map[string]cv.Row {
	out := map[string]cv.Row{}
	for _, r := range cv.Read(t, "jcgm_examples.csv") {
		if r["example"] == example {
			out[r["quantity"]] = r
		}
	}
	return out
}

// JCGM 100:2008 G.4: u 1.03 %, nu 19.0, U95 2.2 %.
func TestBudgetG4(t *testing.T) {
	f := figures(t, "G.4")
	u, nu := Budget([]Part{{"", 0.25, 1, 9}, {"", 0.57, 1, 4}, {"", 0.82, 1, 14}})
	near(t, "u", u, f["u_relative_percent"].Num("computed"), 1e-6)
	near(t, "nu", nu, f["nu_eff"].Num("computed"), 1e-6)
	near(t, "nu as published", nu, 19.0, 0.003)
	near(t, "t", TQuantile(0.975, 19), f["t_95"].Num("computed"), 1e-6)
	near(t, "U95", Expanded(u, nu, 0.95), f["U95_percent"].Num("computed"), 1e-4)
}

// JCGM 100:2008 H.1, end-gauge calibration: uc 32 nm, nu 16, U99 93 nm. The two
// temperature terms have their own budgets in the standard; their contributions are given.
func TestBudgetH1(t *testing.T) {
	f := figures(t, "H.1")
	const length = 50.000623e6 // nm
	parts := []Part{
		{"standard", 25, 1, 18},
		{"difference, repeated", 5.8, 1, 24}, {"difference, random", 3.9, 1, 5}, {"difference, systematic", 6.7, 1, 8},
		{"difference of expansion", 1e-6 / math.Sqrt(3), length * 0.1, 50},
		{"difference of temperature", 0.05 / math.Sqrt(3), length * 11.5e-6, 2},
	}
	near(t, "u(dalpha)", parts[4].U*parts[4].Sensitivity, f["u_dalpha_nm"].Num("computed"), 2e-5)
	near(t, "u(dtheta)", parts[5].U*parts[5].Sensitivity, f["u_dtheta_nm"].Num("computed"), 2e-5)
	u, nu := Budget(parts)
	near(t, "uc", u, f["uc_nm"].Num("published"), 0.02)
	near(t, "nu", nu, f["nu_eff"].Num("computed"), 0.04)
	near(t, "t99", TQuantile(0.995, 16), f["t_99"].Num("computed"), 1e-6)
	near(t, "U99", TQuantile(0.995, 16)*32, f["U99_nm"].Num("computed"), 1e-5)
}

// JCGM 100:2008 H.2: resistance, reactance and impedance with correlated inputs.
func TestCorrelatedH2(t *testing.T) {
	f := figures(t, "H.2")
	rows := cv.Read(t, "jcgm_data.csv")
	in := [][]float64{cv.Column(rows, "column", "V_V", "value"), cv.Column(rows, "column", "I_mA", "value"), cv.Column(rows, "column", "phi_rad", "value")}
	for i := range in[1] {
		in[1][i] /= 1000
	}
	v, i, phi := Mean(in[0]), Mean(in[1]), Mean(in[2])
	cov := make([][]float64, 3)
	for a := range cov {
		for b := range in {
			cov[a] = append(cov[a], Covariance(in[a], in[b])/5)
		}
	}
	s, c, z := math.Sin(phi), math.Cos(phi), v/i
	near(t, "s(V)", math.Sqrt(cov[0][0]), f["s_V"].Num("computed"), 1e-6)
	near(t, "r(V,phi)", cov[0][2]/math.Sqrt(cov[0][0]*cov[2][2]), f["r_Vphi"].Num("computed"), 1e-6)
	near(t, "R", z*c, f["R"].Num("computed"), 1e-6)
	near(t, "u(R)", CombineCorrelated([]float64{c / i, -z * c / i, -z * s}, cov), f["u_R"].Num("computed"), 1e-5)
	near(t, "u(X)", CombineCorrelated([]float64{s / i, -z * s / i, z * c}, cov), f["u_X"].Num("computed"), 1e-5)
	near(t, "u(Z)", CombineCorrelated([]float64{1 / i, -z / i, 0}, cov), f["u_Z"].Num("computed"), 1e-5)
}

// JCGM 100:2008 H.3: calibration line of a thermometer, its value at 30 degC.
func TestLineH3(t *testing.T) {
	f := figures(t, "H.3")
	rows := cv.Read(t, "jcgm_data.csv")
	x, y := cv.Column(rows, "column", "t_degC", "value"), cv.Column(rows, "column", "b_degC", "value")
	for i := range x {
		x[i] -= 20
	}
	l := FitLine(x, y)
	near(t, "y1", l.B0, f["y1"].Num("computed"), 1e-6)
	near(t, "s(y1)", l.SE0, f["s_y1"].Num("computed"), 1e-6)
	near(t, "y2", l.B1, f["y2"].Num("computed"), 1e-6)
	near(t, "s(y2)", l.SE1, f["s_y2"].Num("computed"), 1e-6)
	near(t, "r", l.Cov/(l.SE0*l.SE1), f["r"].Num("computed"), 1e-6)
	at := l.At(10)
	near(t, "b(30)", at.Value, f["b_30"].Num("computed"), 1e-6)
	near(t, "u(b(30))", at.SE, f["u_b_30"].Num("computed"), 1e-6)
}

// JCGM 101:2008 clause 9.2 (additive), 9.3 (mass) and 9.4 (comparison loss).
func TestMonteCarlo101(t *testing.T) {
	const n = 400_000
	rect := func(r *rand.Rand, sd float64) float64 { return sd * math.Sqrt(3) * (2*r.Float64() - 1) }
	y := Draws(n, 1, func(r *rand.Rand) float64 { return rect(r, 1) + rect(r, 1) + rect(r, 1) + rect(r, 1) })
	low, high := Shortest(y, 0.95)
	near(t, "9.2.3 u", SD(y), 2, 0.01)
	near(t, "9.2.3 half width", (high-low)/2, 3.88, 0.01)
	y = Draws(n, 2, func(r *rand.Rand) float64 { return rect(r, 1) + rect(r, 1) + rect(r, 1) + rect(r, 10) })
	near(t, "9.2.4 u", SD(y), 10.1, 0.01)
	near(t, "9.2.4 high", quantileSorted(y, 0.975), 17.0, 0.01)

	m := figures(t, "101-9.3")
	y = Draws(n, 3, func(r *rand.Rand) float64 { // clause 9.3.1: masses mg, densities kg/m3
		mc, dm := 100000+0.05*r.NormFloat64(), 1.234+0.02*r.NormFloat64()
		a, w, rr := 1.1+0.2*r.Float64(), 7000+2000*r.Float64(), 7950+100*r.Float64()
		return (mc+dm)*(1+(a-1.2)*(1/w-1/rr)) - 100000
	})
	low, high = Shortest(y, 0.95)
	near(t, "9.3 mean", Mean(y), m["dm_mg"].Num("published"), 0.001)
	near(t, "9.3 u", SD(y), m["u_MCM_mg"].Num("published"), 0.005)
	near(t, "9.3 low", low, m["low95_shortest"].Num("published"), 0.004)
	near(t, "9.3 high", high, m["high95_shortest"].Num("published"), 0.004)

	loss := figures(t, "101-9.4")
	for _, x1 := range []string{"0", "0.01", "0.05"} {
		mid := loss["mean_1e-6_x1="+x1].Num("computed")
		x := map[string]float64{"0": 0, "0.01": 0.010, "0.05": 0.050}[x1]
		y = Draws(n, 4, func(r *rand.Rand) float64 {
			a, b := x+0.005*r.NormFloat64(), 0.005*r.NormFloat64()
			return 1e6 * (a*a + b*b)
		})
		low, high = Shortest(y, 0.95)
		near(t, "9.4 mean, x1 "+x1, Mean(y), mid, 0.01)
		near(t, "9.4 u, x1 "+x1, SD(y), loss["u_1e-6_x1="+x1].Num("computed"), 0.01)
		near(t, "9.4 high, x1 "+x1, high, loss["high95_1e-6_x1="+x1].Num("computed"), 0.02)
		if w := loss["low95_1e-6_x1="+x1].Num("computed"); math.Abs(low-w) > 25 {
			t.Errorf("9.4 low, x1 %s: %g, want %g", x1, low, w)
		}
	}
}
