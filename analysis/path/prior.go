package path

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// The population of coolers before any data: means and covariance of ln of the four
// stages' shares of the resistance and of ln of their time constants in s. They are the
// stages of 999 random machines of package proof (drawn with the seeds 1 to 999), five
// heat nodes reduced to four stages, and say what a block with fins on a chip is like:
// most of the resistance is in one slow stage of some 200 s, and what the others lack it
// has. Wide lets real machines differ by more than those.
var (
	shareMean = [Stages]float64{-1.847, -2.269, -2.141, -0.657}
	tauMean   = [Stages]float64{-0.555, 1.359, 3.701, 5.292}
	stageCov  = [2 * Stages][2 * Stages]float64{
		{0.295, -0.172, -0.064, -0.037, 0.227, -0.010, -0.010, 0.006},
		{-0.172, 0.622, 0.119, -0.084, -0.120, 0.065, -0.063, -0.067},
		{-0.064, 0.119, 0.531, -0.127, -0.132, -0.021, 0.078, -0.072},
		{-0.037, -0.084, -0.127, 0.074, -0.011, 0.004, -0.007, 0.024},
		{0.227, -0.120, -0.132, -0.011, 0.645, 0.021, -0.004, 0.039},
		{-0.010, 0.065, -0.021, 0.004, 0.021, 0.150, -0.015, 0.010},
		{-0.010, -0.063, 0.078, -0.007, -0.004, -0.015, 0.122, 0.029},
		{0.006, -0.067, -0.072, 0.024, 0.039, 0.010, 0.029, 0.093},
	}
)

// belief is a normal distribution over the parameters.
type belief struct {
	mean  [params]float64
	cov   [params][params]float64
	hold  [params][params]float64 // the inverse of cov, with doubts
	plain [params][params]float64 // the same without
}

func (b *belief) settle() { b.hold = inverted(&b.cov); b.plain = b.hold }

// Prior is what an earlier trace of the same machine showed: its whole posterior.
type Prior struct {
	measured bool
	air      air // its slow stage stands for air.now
	mean     [params]float64
	cov      [params][params]float64
}

// Prior is the fit as knowledge for a later trace.
func (f *Fit) Prior() *Prior {
	p := &Prior{measured: f.Measured, air: f.air, mean: f.theta, cov: f.cov}
	for a := range p.cov {
		for b := range p.cov {
			p.cov[a][b] *= f.inflate * f.inflate
		}
	}
	return p
}

// population sets the belief about a machine never seen before.
func (b *belief) population(power float64, air *air, th Thresholds) {
	total := math.Log(th.RiseK / power)
	for k := range Stages {
		b.mean[k], b.mean[Stages+k] = total+shareMean[k], tauMean[k]
	}
	for i := range stageCov {
		for j := range stageCov {
			b.cov[i][j] = th.Wide * th.Wide * stageCov[i][j]
			if i < Stages && j < Stages {
				b.cov[i][j] += th.RiseSD * th.RiseSD
			}
		}
		b.cov[i][i] += 0.02 * 0.02
	}
	b.mean[curveAt], b.cov[curveAt][curveAt] = th.Unseen, th.UnseenSD*th.UnseenSD
	if air.recorded {
		b.mean[curveAt], b.cov[curveAt][curveAt] = th.Blown, th.BlownSD*th.BlownSD
	}
}

// earlier sets the belief from an earlier trace, moved to the present state of the air.
func (b *belief) earlier(p *Prior, air *air, th Thresholds) {
	b.mean = p.mean
	curve, cov := b.mean[curveAt], b.cov[curveAt][curveAt]
	d := air.now - p.air.now
	if p.air.recorded != air.recorded { // another scale: the curve is not known in it
		d = 0
	}
	move := func(v [params]float64) [params]float64 {
		v[Stages-1] -= d * v[curveAt]
		v[2*Stages-1] -= d * v[curveAt]
		return v
	}
	b.mean = move(b.mean)
	var half [params][params]float64
	for i := range half {
		half[i] = move(p.cov[i])
	}
	for j := range half {
		var col [params]float64
		for i := range half {
			col[i] = half[i][j]
		}
		col = move(col)
		for i := range half {
			b.cov[i][j] = col[i]
		}
	}
	for k := range Stages {
		b.cov[k][k] += th.Again * th.Again
		b.cov[Stages+k][Stages+k] += th.Again * th.Again
	}
	if p.air.recorded != air.recorded {
		b.forget(curveAt)
		b.mean[curveAt], b.cov[curveAt][curveAt] = curve, cov
		b.cov[Stages-1][Stages-1] += 0.05 * 0.05
	}
}

// doubt widens the population where this machine is unlike it: the belief over stages is
// a Student distribution of th.Tail degrees of freedom, taken as a normal one of the
// spread that its distance asks for (Lange, Little, Taylor 1989, J. Am. Stat. Assoc.
// 84:881, from memory).
func (b *belief) doubt(theta *[params]float64, th Thresholds) {
	const n = 2 * Stages
	far := 0.0
	for i := range n {
		for j := range n {
			far += (theta[i] - b.mean[i]) * b.plain[i][j] * (theta[j] - b.mean[j])
		}
	}
	w := math.Min((th.Tail+n)/(th.Tail+far), 1) // only ever wider
	for i := range n {
		for j := range n {
			b.hold[i][j] = w * b.plain[i][j]
		}
	}
}

// forget makes a parameter independent of the others.
func (b *belief) forget(k int) {
	for j := range b.cov {
		b.cov[k][j], b.cov[j][k] = 0, 0
	}
}

func inverted(in *[params][params]float64) (out [params][params]float64) {
	h := mat.NewSymDense(params, nil)
	for a := range in {
		for b := a; b < params; b++ {
			h.SetSym(a, b, (in[a][b]+in[b][a])/2)
		}
	}
	return inverse(h)
}
