package path

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// draw takes samples of the normal law about the most likely path, widened by Inflate;
// ln R and ln tau being normal, resistances stay positive and their law is skewed. The
// generator starts from a fixed seed: equal input gives equal output (JCGM 101:2008
// asks only that the draws be many enough, not that they be fresh).
func (p *problem) draw(theta *[params]float64, h *mat.SymDense, th Thresholds) []Draw {
	var c mat.Cholesky
	if !c.Factorize(h) {
		return nil
	}
	var u mat.TriDense
	c.UTo(&u)
	rng := rand.New(rand.NewPCG(1, 2))
	z := mat.NewVecDense(params, nil)
	var x mat.VecDense
	out := make([]Draw, th.Draws)
	for i := range out {
		for a := range params {
			z.SetVec(a, rng.NormFloat64()*th.Inflate)
		}
		// H = U'U, so x = U^-1 z has the covariance H^-1.
		if x.SolveVec(&u, z) != nil {
			return nil
		}
		t := *theta
		for a := range t {
			t[a] += x.AtVec(a)
		}
		out[i].R, out[i].Tau, out[i].Offset = unpack(&t)
	}
	return out
}

// Interval is the 5 % and 95 % quantile of a function of the path.
func (f *Fit) Interval(of func(*Draw) float64) (low, high float64) {
	v := make([]float64, 0, len(f.Draws))
	for i := range f.Draws {
		if x := of(&f.Draws[i]); !math.IsNaN(x) {
			v = append(v, x)
		}
	}
	if len(v) < 20 {
		return math.NaN(), math.NaN()
	}
	slices.Sort(v)
	return at(v, 0.05), at(v, 0.95)
}

// at is the quantile q of sorted values.
func at(v []float64, q float64) float64 {
	x := q * float64(len(v)-1)
	k := min(int(x), len(v)-2)
	return v[k] + (x-float64(k))*(v[k+1]-v[k])
}
