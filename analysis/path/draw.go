package path

import "math"

// normal90 is the half-width of a 90 % interval in standard deviations.
const normal90 = 1.6449

// Spread is the standard deviation of the logarithm of a positive function of the path,
// from the curvature of the fit by the law of propagation of uncertainty (JCGM
// 100:2008, 5.2.2) and widened by Inflate. The parameters being logarithms, the
// function's logarithm is close to linear in them.
func (f *Fit) Spread(of func(*Path) float64) float64 {
	const h = 1e-3
	var g [params]float64
	for k := range g {
		if k >= pastAt && k < pastAt+nuisance {
			continue
		}
		up, down := f.theta, f.theta
		up[k] += h
		down[k] -= h
		a, b := pathOf(&up), pathOf(&down)
		g[k] = (math.Log(of(&a)) - math.Log(of(&b))) / (2 * h)
		if math.IsNaN(g[k]) || math.IsInf(g[k], 0) {
			return math.NaN()
		}
	}
	v := 0.0
	for a := range g {
		for b := range g {
			v += g[a] * f.cov[a][b] * g[b]
		}
	}
	return f.inflate * math.Sqrt(math.Max(v, 0))
}

// Interval is the 90 % interval of a positive function of the path.
func (f *Fit) Interval(of func(*Path) float64) (low, high float64) {
	best := pathOf(&f.theta)
	v, u := of(&best), f.Spread(of)
	return v * math.Exp(-normal90*u), v * math.Exp(normal90*u)
}

// OffsetSD is the standard uncertainty of the offset, K.
func (f *Fit) OffsetSD() float64 {
	return f.inflate * math.Sqrt(math.Max(f.cov[offsetAt][offsetAt], 0))
}
