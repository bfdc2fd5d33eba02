package proof

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"soakline/analysis/compare"
)

// ChangeReport is what many pairs of runs say of the comparison.
type ChangeReport struct {
	Pairs     int
	Near, Far Tally
	Verdicts  Confusion
	notes     []string
}

// NewChangeReport sets the targets.
func NewChangeReport() *ChangeReport {
	return &ChangeReport{
		Near: Tally{Name: "near ratio", Unit: "%", Within: 12, Covers: true},
		Far:  Tally{Name: "far ratio", Unit: "%", Within: 12, Covers: true},
	}
}

// resistances are the parts as they stand when the run has settled: the fan's speed counts.
func resistances(t Truth) (near, far float64) {
	m := t.Machine
	return m.R[0] + m.R[1], m.R[2] + m.R[3] + m.fins(m.rpm(t.FinalC-m.DieOffset))
}

// Pair draws a machine, changes nothing, the near part, the far part or both by 25 % to a
// factor of 2, runs both at unlike powers and rooms, and checks the verdict. Pairs whose
// fan turns a change into one between 10 and 25 % are left out of the verdicts.
func (cr *ChangeReport) Pair(seed uint64) {
	r := rand.New(rand.NewPCG(seed, 0xc4a))
	a := Draw(r)
	b := a
	factor := func() float64 {
		f := logUniform(r, 1.27, 2)
		if chance(r, 0.4) {
			f = 1 / f
		}
		return f
	}
	what := r.IntN(4)
	if what&1 == 1 {
		k := r.IntN(2)                                                               // under the die or under the spreader
		b.R[k] = max(factor()*(a.R[0]+a.R[1])-a.R[1-k], 0.1*a.R[k], 1.5*step/a.C[k]) // no faster than the simulation's step
	}
	if what&2 == 2 {
		f := math.Pow(factor(), 1.15)       // of the far part as a whole a little less
		b.R[3], b.R[4] = b.R[3]*f, b.R[4]*f // fins, air, coolant; the block stays as it is
	}
	scale := uniform(r, 0.8, 1.25)
	b.PL1, b.PL2 = b.PL1*scale, b.PL2*scale
	b.DieOffset += 0.2 * r.NormFloat64()
	b.RefOffset = 0.3 * r.NormFloat64()
	plan := func() Plan {
		p := DrawPlan(r, uniform(r, 240, 900))
		p.Before = 0
		return p
	}
	ta, truthA := Run(r, &a, plan())
	tb, truthB := Run(r, &b, plan())
	na, fa := resistances(truthA)
	nb, fb := resistances(truthB)
	got := compare.Compare([]compare.Run{{Trace: ta}}, []compare.Run{{Trace: tb}}, compare.Options{}).ThermalPath
	cr.Pairs++
	cr.Near.Add(got.NearRatio, got.NearLow, got.NearHigh, nb/na, 100/(nb/na))
	cr.Far.Add(got.FarRatio, got.FarLow, got.FarHigh, fb/fa, 100/(fb/fa))
	is := verdict(nb/na, fb/fa)
	if is == "" || !a.HasRef {
		return
	}
	cr.Verdicts.Add(string(is), string(got.Verdict))
	if is != got.Verdict && len(cr.notes) < 30 {
		cr.notes = append(cr.notes, fmt.Sprintf("seed %d: true %s (near %.2f, far %.2f), said %s: near %.2f (%.2f to %.2f), far %.2f (%.2f to %.2f); %s", seed, is, nb/na, fb/fa,
			got.Verdict, got.NearRatio, got.NearLow, got.NearHigh, got.FarRatio, got.FarLow, got.FarHigh, got.Why))
	}
}

// verdict is the true one; "" where a part changed by between 10 and 25 %.
func verdict(near, far float64) compare.Verdict {
	state := func(x float64) int {
		switch d := math.Abs(math.Log(x)); {
		case d < math.Log(1.1):
			return 0
		case d > math.Log(1.25):
			return 1
		}
		return -1
	}
	n, f := state(near), state(far)
	if n < 0 || f < 0 {
		return ""
	}
	return [2][2]compare.Verdict{{compare.None, compare.Far}, {compare.Near, compare.Both}}[n][f]
}

// Misses are the targets that are missed by more than chance explains.
func (cr *ChangeReport) Misses() []string {
	var out []string
	for _, t := range []*Tally{&cr.Near, &cr.Far} {
		if m := t.Miss(); m != "" {
			out = append(out, m)
		}
	}
	n, right := 0, 0
	for k, v := range cr.Verdicts.count {
		if n += v; k[0] == k[1] {
			right += v
		}
	}
	if n > 0 && byChance(right, n, 0.95) < 1e-3 {
		out = append(out, fmt.Sprintf("verdicts: %d of %d right", right, n))
	}
	return out
}

// String is the tables, in Markdown.
func (cr *ChangeReport) String() string {
	b := &strings.Builder{}
	fmt.Fprintf(b, "%d pairs\n\n%s\n%s\n%s\n\nverdict right in %.1f %% (target 95 %%, undetermined at most 5 %%)\n\n%s", cr.Pairs, Head, cr.Near.Row(), cr.Far.Row(),
		100*cr.Verdicts.Right(), &cr.Verdicts)
	for _, n := range cr.notes {
		fmt.Fprintln(b, n)
	}
	return b.String()
}
