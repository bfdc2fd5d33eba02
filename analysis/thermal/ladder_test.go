package thermal

import (
	"math"
	"testing"

	"pgregory.net/rapid"
	cv "soakline/testdata/checkvalues"
)

func near(t testing.TB, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s: got %.12g, want %.12g", what, got, want)
	}
}

// published reads the ladders: 'two' and 'cauer3' exact by hand, the others by 60 digits.
func published(t testing.TB) (map[string]Cauer, map[string]Foster) {
	cauer, foster := map[string]Cauer{}, map[string]Foster{}
	for _, r := range cv.Read(t, "thermal_ladders.csv") {
		name := r["ladder"]
		if r["kind"] == "cauer" {
			c := cauer[name]
			cauer[name] = Cauer{append(c.R, r.Num("r_k_per_w")), append(c.C, r.Num("c_j_per_k_or_tau_s"))}
		} else {
			f := foster[name]
			foster[name] = Foster{append(f.R, r.Num("r_k_per_w")), append(f.Tau, r.Num("c_j_per_k_or_tau_s"))}
		}
	}
	return cauer, foster
}

func TestConversionPublished(t *testing.T) {
	cauer, foster := published(t)
	for name, c := range cauer {
		f, err := c.Foster()
		if err != nil {
			t.Fatal(name, err)
		}
		back, err := foster[name].Cauer()
		if err != nil {
			t.Fatal(name, err)
		}
		for k := range c.R {
			near(t, name+" Foster R", f.R[k], foster[name].R[k], 1e-9)
			near(t, name+" Foster tau", f.Tau[k], foster[name].Tau[k], 1e-9)
			near(t, name+" Cauer R", back.R[k], c.R[k], 1e-8)
			near(t, name+" Cauer C", back.C[k], c.C[k], 1e-8)
		}
	}
}

// Z(t) of the published ladders: closed form, and a transient run of a circuit simulator.
func TestStepResponsePublished(t *testing.T) {
	cauer, _ := published(t)
	for _, r := range cv.Read(t, "thermal_step_response.csv") {
		f, err := cauer[r["ladder"]].Foster()
		if err != nil {
			t.Fatal(err)
		}
		at := r.Num("t_s")
		near(t, r["ladder"]+" Z", f.Z(at), r.Num("z_closed_form"), 1e-9)
		near(t, r["ladder"]+" circuit", f.Z(at), r.Num("z_ngspice"), 1e-6)
		resp, end := f.NewResponse(0), 0.0
		for range 7 { // any division into steps is exact
			end, _ = resp.Step(1, at/7)
		}
		near(t, r["ladder"]+" stepped", end, r.Num("z_closed_form"), 1e-9)
	}
}

// drawCauer draws a ladder of 1 to most stages over decades of R and C.
func drawCauer(t *rapid.T, most int) Cauer {
	n := rapid.IntRange(1, most).Draw(t, "stages")
	var c Cauer
	for range n {
		c.R = append(c.R, math.Exp(rapid.Float64Range(-4, 1).Draw(t, "ln R")))
		c.C = append(c.C, math.Exp(rapid.Float64Range(-2, 6).Draw(t, "ln C")))
	}
	return c
}

// What both forms must agree on: sum R; sum R/tau = 1/C_1; sum R tau = sum C_k (resistance
// from node k on)^2.
func TestInvariants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCauer(t, 7)
		f, err := c.Foster()
		if err != nil {
			t.Fatal(err)
		}
		var rate, moment, want float64
		for i, r := range f.R {
			if r < 0 {
				t.Fatalf("a driving point has no negative term: %g", r)
			}
			rate, moment = rate+r/f.Tau[i], moment+r*f.Tau[i]
		}
		on := c.Total()
		for k := range c.R {
			want += c.C[k] * on * on
			on -= c.R[k]
		}
		for what, p := range map[string][2]float64{"sum R": {f.Total(), c.Total()}, "sum R/tau": {rate, 1 / c.C[0]}, "sum R tau": {moment, want}} {
			if math.Abs(p[0]/p[1]-1) > 1e-8 {
				t.Fatalf("%s: %g in Foster's form, %g in Cauer's", what, p[0], p[1])
			}
		}
	})
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "terms")
		f := Foster{}
		tau := 0.1
		for range n {
			tau *= rapid.Float64Range(1.5, 20).Draw(t, "ratio")
			f.R = append(f.R, rapid.Float64Range(0.01, 1).Draw(t, "R"))
			f.Tau = append(f.Tau, tau)
		}
		c, err := f.Cauer()
		if err != nil {
			t.Fatal(err)
		}
		back, err := c.Foster()
		if err != nil {
			t.Fatal(err)
		}
		for i := range f.R {
			if math.Abs(back.R[i]/f.R[i]-1) > 1e-6 || math.Abs(back.Tau[i]/f.Tau[i]-1) > 1e-6 {
				t.Fatalf("%v came back as %v", f, back)
			}
		}
	})
}

// rod is a uniform rod, far end at the reference, cut after n terms (Carslaw, Jaeger 1959).
func rod(r, c float64, n int) Foster {
	f := Foster{}
	for k := 1; k <= n; k++ {
		q := math.Pi * math.Pi * float64((2*k-1)*(2*k-1))
		f.R, f.Tau = append(f.R, 8*r/q), append(f.Tau, 4*r*c/q)
	}
	return f
}

// A uniform rod: published Z(t), and the structure function must be the line C/R, also at
// 60 stages, where double precision gives nonsense.
func TestRod(t *testing.T) {
	f := rod(1, 1, 4000)
	for _, r := range cv.Read(t, "closed_form_heat.csv") {
		if r["case"] == "rod" {
			near(t, "rod Z", f.Z(r.Num("t_s")), r.Num("value"), 2e-2*math.Sqrt(1e-4/r.Num("t_s"))+1e-6)
		}
	}
	for _, n := range []int{20, 60} {
		c, err := rod(2, 5, n).Cauer()
		if err != nil {
			t.Fatal(err)
		}
		s := c.Structure()
		for i := n / 10; i < n*3/4; i++ {
			near(t, "C/R along the rod", (s.C[i]-s.C[i-1])/(s.R[i]-s.R[i-1]), 2.5, 0.01)
		}
	}
}

func TestLumped(t *testing.T) {
	for _, r := range cv.Read(t, "closed_form_heat.csv") {
		if r["case"] == "lumped" {
			f, _ := Cauer{R: []float64{0.8}, C: []float64{100}}.Foster()
			near(t, "lumped", 40*f.Z(r.Num("t_s")), r.Num("value"), 1e-8)
		}
	}
}

func TestNoLadder(t *testing.T) {
	for _, f := range []Foster{{}, {R: []float64{1}, Tau: []float64{-1}}, {R: []float64{math.NaN()}, Tau: []float64{1}}, {R: []float64{1, 2}, Tau: []float64{1}}} {
		if _, err := f.Cauer(); err == nil {
			t.Errorf("%v must be refused", f)
		}
	}
	if _, err := (Cauer{R: []float64{1}, C: []float64{0}}).Foster(); err == nil {
		t.Error("no capacity must be refused")
	}
}
