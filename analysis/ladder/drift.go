package ladder

import (
	"fmt"
	"math"
	"math/rand/v2"

	"soakline/analysis"
	"soakline/analysis/stats"
)

// shuffles is how many permutations the p value rests on; with fewer than fewestOrders
// different orders no p value of 5 % could be told.
const (
	shuffles     = 2000
	fewestOrders = 40
)

// driftOf fits ln(figure) = setup + slope * place by least squares: the setups are taken out
// by their means, so that a change of setup is no drift. The interval of the slope is
// Student's at 95 %, the p value that of a permutation of the runs within their setups
// (Fisher's randomisation, which asks for no distribution), where there are enough orders.
func driftOf(f figure, groups [][]sample, seed uint64) (Drift, bool) {
	u := analysis.Unknown()
	d := Drift{Name: f.name, Unit: f.unit, PctPerRun: u, Low: u, High: u, P: u}
	x, y, orders, parts := [][]float64{}, [][]float64{}, 1.0, 0
	for _, g := range groups {
		if len(g) == 0 {
			continue
		}
		parts++
		var gx, gy []float64
		for i, s := range g {
			gx, gy = append(gx, float64(s.place)), append(gy, math.Log(s.v))
			orders *= float64(i + 1)
		}
		d.N += len(g)
		x, y = append(x, centred(gx)), append(y, centred(gy))
	}
	df := float64(d.N - parts - 1)
	slope, se := slopeOf(x, y, df)
	if df < 1 || math.IsNaN(slope) {
		d.Say = "whether it drifted is not known: that needs setups that were run more than once"
		return d, false
	}
	low, high := stats.Estimate{Value: slope, SE: se, DF: df}.Interval(0.95)
	percent := func(v float64) analysis.Number { return analysis.Number(100 * math.Expm1(v)) }
	d.PctPerRun, d.Low, d.High = percent(slope), percent(low), percent(high)
	p := 2 * stats.TCDF(-math.Abs(slope/se), df)
	if orders >= fewestOrders {
		p = permuted(x, y, slope, seed)
	}
	d.P = analysis.Number(p)
	real := p < 0.05
	d.Real = &real
	d.Say = fmt.Sprintf("no drift is shown: %+.2f %% a run (%+.2f to %+.2f), p %.2g", float64(d.PctPerRun), float64(d.Low), float64(d.High), p)
	if real {
		d.Say = fmt.Sprintf("drifts by %+.2f %% a run (%+.2f to %+.2f), p %.2g: compare runs taken in turn", float64(d.PctPerRun), float64(d.Low), float64(d.High), p)
	}
	return d, true
}

func centred(x []float64) []float64 {
	m := stats.Mean(x)
	for i := range x {
		x[i] -= m
	}
	return x
}

// slopeOf is the common slope within groups that are centred already.
func slopeOf(x, y [][]float64, df float64) (slope, se float64) {
	var sxx, sxy, syy float64
	for g := range x {
		for i := range x[g] {
			sxx, sxy, syy = sxx+x[g][i]*x[g][i], sxy+x[g][i]*y[g][i], syy+y[g][i]*y[g][i]
		}
	}
	slope = sxy / sxx
	return slope, math.Sqrt(math.Max(syy-slope*sxy, 0) / df / sxx)
}

// permuted is the share of random orders within the groups whose slope is at least as
// steep; the order seen counts as one of them.
func permuted(x, y [][]float64, seen float64, seed uint64) float64 {
	rng := rand.New(rand.NewPCG(seed, 0xd21f7))
	hits := 1
	for range shuffles {
		var sxx, sxy float64
		for g := range x {
			order := rng.Perm(len(y[g]))
			for i, k := range order {
				sxx, sxy = sxx+x[g][i]*x[g][i], sxy+x[g][i]*y[g][k]
			}
		}
		if math.Abs(sxy/sxx) >= math.Abs(seen)*(1-1e-12) {
			hits++
		}
	}
	return float64(hits) / (shuffles + 1)
}
