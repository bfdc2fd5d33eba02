package stats

import (
	"math"
	"math/rand/v2"
	"slices"
)

// Part is one line of an uncertainty budget after JCGM 100:2008.
type Part struct {
	Name        string
	U           float64 // standard uncertainty of the input, in its own unit
	Sensitivity float64 // change of the result per unit of the input
	DF          float64 // degrees of freedom of U; +Inf or 0 for "taken as known"
}

// Budget combines independent parts: JCGM 100, 5.1.2 for the combined uncertainty and
// G.4.1 (Welch, Satterthwaite) for its degrees of freedom.
func Budget(parts []Part) (u, df float64) {
	var v, w float64
	for _, p := range parts {
		c := p.Sensitivity * p.U
		v += c * c
		if p.DF > 0 && !math.IsInf(p.DF, 1) {
			w += c * c * c * c / p.DF
		}
	}
	if w == 0 {
		return math.Sqrt(v), math.Inf(1)
	}
	return math.Sqrt(v), v * v / w
}

// Expanded is the expanded uncertainty at this level (0.95): t times u, the degrees of
// freedom not cut to an integer (G.4.1 note 1 allows it; a plain cut of 18.9987 to 18
// would be a step too far).
func Expanded(u, df, level float64) float64 { return TQuantile(0.5+level/2, df) * u }

// CombineCorrelated is the combined standard uncertainty for sensitivities c and a full
// covariance matrix (JCGM 100, 5.2.2); NaN where the sizes differ.
func CombineCorrelated(c []float64, cov [][]float64) float64 {
	v := 0.0
	for i := range c {
		if len(cov) != len(c) || len(cov[i]) != len(c) {
			return math.NaN()
		}
		for j := range c {
			v += c[i] * c[j] * cov[i][j]
		}
	}
	return math.Sqrt(max(v, 0))
}

// Covariance is the sample covariance of two columns with divisor n-1.
func Covariance(x, y []float64) float64 {
	if len(x) != len(y) || len(x) < 2 {
		return math.NaN()
	}
	mx, my, s := Mean(x), Mean(y), 0.0
	for i := range x {
		s += (x[i] - mx) * (y[i] - my)
	}
	return s / float64(len(x)-1)
}

// Draws propagates distributions by Monte Carlo after JCGM 101:2008: n values of a model
// whose inputs it draws from the generator that it is given. Sorted.
func Draws(n int, seed uint64, model func(*rand.Rand) float64) []float64 {
	rng := rand.New(rand.NewPCG(seed, 0x101))
	out := make([]float64, n)
	for i := range out {
		out[i] = model(rng)
	}
	slices.Sort(out)
	return out
}

// Shortest is the shortest interval that holds this share of sorted draws (JCGM 101,
// 7.7.4); NaN of nothing.
func Shortest(sorted []float64, level float64) (low, high float64) {
	n := len(sorted)
	q := int(math.Round(level * float64(n)))
	if n == 0 || q < 1 || q >= n {
		return math.NaN(), math.NaN()
	}
	low, high = sorted[0], sorted[q]
	for i := 1; i+q < n; i++ {
		if sorted[i+q]-sorted[i] < high-low {
			low, high = sorted[i], sorted[i+q]
		}
	}
	return low, high
}
