package numeric

import "math"

// Root finds x in lo..hi with f(x) = 0 to within tol, by Brent's method (Brent 1973,
// Algorithms for Minimization without Derivatives, chapter 4). f(lo) and f(hi) must have
// unlike signs, else NaN.
func Root(f func(float64) float64, lo, hi, tol float64) float64 {
	a, b := lo, hi
	fa, fb := f(a), f(b)
	if !(fa*fb <= 0) {
		return math.NaN()
	}
	c, fc, d := a, fa, b-a
	e := d
	for range 200 {
		if fb*fc > 0 {
			c, fc, d = a, fa, b-a
			e = d
		}
		if math.Abs(fc) < math.Abs(fb) {
			a, b, c = b, c, b
			fa, fb, fc = fb, fc, fb
		}
		limit := 2*2.2e-16*math.Abs(b) + tol/2
		m := (c - b) / 2
		if math.Abs(m) <= limit || fb == 0 {
			return b
		}
		if math.Abs(e) < limit || math.Abs(fa) <= math.Abs(fb) {
			d, e = m, m
		} else {
			d, e = interpolate(a, b, c, fa, fb, fc, m, limit, d, e)
		}
		a, fa = b, fb
		if math.Abs(d) > limit {
			b += d
		} else {
			b += math.Copysign(limit, m)
		}
		fb = f(b)
	}
	return b
}

// interpolate is the secant or inverse quadratic step, or bisection where that would not
// shrink the bracket fast enough.
func interpolate(a, b, c, fa, fb, fc, m, limit, d, e float64) (step, last float64) {
	s := fb / fa
	if a == c {
		return accept(2*m*s, 1-s, m, limit, d, e)
	}
	q, r := fa/fc, fb/fc
	return accept(s*(2*m*q*(q-r)-(b-a)*(r-1)), (q-1)*(r-1)*(s-1), m, limit, d, e)
}

func accept(p, q, m, limit, d, e float64) (step, last float64) {
	if p > 0 {
		q = -q
	}
	p = math.Abs(p)
	if 2*p < min(3*m*q-math.Abs(limit*q), math.Abs(e*q)) {
		return p / q, d
	}
	return m, m
}

// LambertW0 is the principal branch of w e^w = x (Corless, Gonnet, Hare, Jeffrey, Knuth
// 1996, Adv. Comput. Math. 5:329) by Halley's iteration; NaN below -1/e.
func LambertW0(x float64) float64 {
	switch {
	case math.IsNaN(x) || x < -1/math.E:
		return math.NaN()
	case x == 0 || math.IsInf(x, 1):
		return x
	}
	w := math.Log1p(x)
	if x < -0.25 { // series about the branch point
		p := math.Sqrt(2 * (math.E*x + 1))
		w = -1 + p - p*p/3 + 11*p*p*p/72
	} else if x > 3 {
		l := math.Log(x)
		w = l - math.Log(l)
	}
	for range 50 {
		e := math.Exp(w)
		f := w*e - x
		step := f / (e*(w+1) - (w+2)*f/(2*w+2))
		if math.IsNaN(step) {
			break
		}
		w -= step
		if math.Abs(step) <= 1e-15*(1+math.Abs(w)) {
			break
		}
	}
	return w
}
