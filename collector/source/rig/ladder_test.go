package rig

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"soakline/testdata/checkvalues"
)

// cauer gives the ladder of a name in thermal_ladders.csv.
func cauer(t *testing.T, name string) *ladder {
	t.Helper()
	var r, c []float64
	for _, row := range checkvalues.Read(t, "thermal_ladders.csv") {
		if row["ladder"] == name && row["kind"] == "cauer" {
			r, c = append(r, row.Num("r_k_per_w")), append(c, row.Num("c_j_per_k_or_tau_s"))
		}
	}
	l, err := newLadder(r, c)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// near fails unless got is within share of want.
func near(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if !(math.Abs(got-want) <= share*math.Abs(want)) {
		t.Errorf("%s: got %.9g, want %.9g within %g of it", what, got, want, share)
	}
}

// The unit-step response against thermal_step_response.csv: the closed form (sum of
// exponentials) and a transient run of a general circuit solver, ngspice 39.3. At steps of
// 1 ms the rule is off by (t/tau)(dt/tau)^2/12 exp(-t/tau) of a stage: 1.0e-5 at 0.1 s for
// tau = 0.046 s, less everywhere else.
func TestStepResponse(t *testing.T) {
	rows := checkvalues.Read(t, "thermal_step_response.csv")
	if len(rows) < 50 {
		t.Fatalf("%d rows", len(rows))
	}
	var l *ladder
	name, done := "", 0
	for _, row := range rows {
		if row["ladder"] != name {
			name, done = row["ladder"], 0
			l = cauer(t, name)
		}
		for ; done < int(math.Round(row.Num("t_s")*1000)); done++ {
			l.step(0.001, 1, 0)
		}
		what := name + " at " + row["t_s"] + " s"
		near(t, what, l.t[0], row.Num("z_closed_form"), 1.2e-5)
		near(t, what+" (circuit solver)", l.t[0], row.Num("z_ngspice"), 1.2e-5)
	}
}

// One node against dT = P R (1 - exp(-t/(R C))), closed_form_heat.csv, case lumped.
func TestLumped(t *testing.T) {
	l, _ := newLadder([]float64{0.8}, []float64{100})
	done := 0
	for _, row := range caseRows(t, "lumped") {
		for ; done < int(math.Round(row.Num("t_s")*1000)); done++ {
			l.step(0.001, 40, 0)
		}
		near(t, "lumped at "+row["t_s"]+" s", l.t[0], row.Num("value"), 1e-8)
	}
}

// A uniform rod, heat in at one end and the other end held, cut into 200 slices, against
// the series of closed_form_heat.csv (Carslaw and Jaeger 1959; as a one-port: Szekely
// and Van Bien 1988). Earlier than 0.01 s the slices are too coarse.
func TestRod(t *testing.T) {
	const n = 200
	r, c := make([]float64, n), make([]float64, n)
	for k := range n {
		r[k], c[k] = 1.0/n, 1.0/n
	}
	c[0] /= 2 // the first node stands for half a slice
	l, _ := newLadder(r, c)
	done := 0
	for _, row := range caseRows(t, "rod") {
		for ; done < int(math.Round(row.Num("t_s")*10000)); done++ {
			l.step(0.0001, 1, 0)
		}
		if row.Num("t_s") >= 0.01 {
			near(t, "rod at "+row["t_s"], l.t[0], row.Num("value"), 5e-4)
		}
	}
}

func caseRows(t *testing.T, name string) []checkvalues.Row {
	t.Helper()
	var out []checkvalues.Row
	for _, row := range checkvalues.Read(t, "closed_form_heat.csv") {
		if row["case"] == name {
			out = append(out, row)
		}
	}
	if len(out) == 0 {
		t.Fatalf("closed_form_heat.csv has no case %q", name)
	}
	return out
}

// What a ladder's two forms share, read off its simulated step response: the first
// slope is 1/C1 = sum R_i/tau_i, the end is sum R_i, and the area between end and curve
// is sum R_i tau_i. The right-hand sides come from the Foster rows of
// thermal_ladders.csv (eigenvalues of the ladder matrix, made by other means).
func TestFosterInvariants(t *testing.T) {
	for _, name := range []string{"two", "base", "near_worse", "far_worse", "cauer3"} {
		var sumR, sumRTau, slope, slowest float64
		for _, row := range checkvalues.Read(t, "thermal_ladders.csv") {
			if row["ladder"] == name && row["kind"] == "foster" {
				r, tau := row.Num("r_k_per_w"), row.Num("c_j_per_k_or_tau_s")
				sumR, sumRTau, slope, slowest = sumR+r, sumRTau+r*tau, slope+r/tau, max(slowest, tau)
			}
		}
		l := cauer(t, name)
		l.step(1e-6, 1, 0)
		near(t, name+": first slope", l.t[0]/1e-6, slope, 1e-4)
		l = cauer(t, name)
		const dt = 0.01
		area, last := 0.0, 0.0
		for range int(20 * slowest / dt) {
			l.step(dt, 1, 0)
			area += dt * (sumR - (l.t[0]+last)/2)
			last = l.t[0]
		}
		near(t, name+": end", l.t[0], sumR, 1e-7)
		near(t, name+": area", area, sumRTau, 1e-4)
	}
}

// Heat is neither made nor lost: what is stored plus what went to the reference is what
// came in, for any ladder, power and step, also while the last resistance changes.
func TestLadderKeepsHeat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "nodes")
		positive := rapid.Float64Range(0.01, 50)
		l, err := newLadder(rapid.SliceOfN(positive, n, n).Draw(t, "r"), rapid.SliceOfN(positive, n, n).Draw(t, "c"))
		if err != nil {
			t.Fatal(err)
		}
		in := 0.0
		for i := range rapid.IntRange(1, 200).Draw(t, "steps") {
			dt, p := rapid.Float64Range(1e-4, 5).Draw(t, "dt"), rapid.Float64Range(0, 200).Draw(t, "p")
			if i%7 == 0 {
				l.setLast(positive.Draw(t, "last r"))
			}
			l.step(dt, p, 0)
			in += p * dt
		}
		if out := l.heatIn(0) + l.released; math.Abs(out-in) > 1e-9*(in+1) {
			t.Fatalf("%g J went in, %g J are there or went out", in, out)
		}
	})
}

func TestLadderRefusesNonsense(t *testing.T) {
	for i, bad := range [][2][]float64{{nil, nil}, {{1}, {1, 2}}, {{0}, {1}}, {{1}, {-1}}, {{math.NaN()}, {1}}} {
		if _, err := newLadder(bad[0], bad[1]); err == nil {
			t.Error("case " + strconv.Itoa(i) + ": no error")
		}
	}
}
