package numeric

import "math"

// triangle is R and Q'b of a QR decomposition, R p x p row by row.
type triangle struct {
	p    int
	r, q []float64
}

// decompose reduces the m x p matrix a (row by row) and b by Householder reflections
// (Golub, Van Loan, Matrix Computations, 5.2); both are overwritten.
func decompose(a, b []float64, m, p int) triangle {
	for k := 0; k < p && k < m; k++ {
		norm := 0.0
		for i := k; i < m; i++ {
			norm += a[i*p+k] * a[i*p+k]
		}
		if norm = math.Sqrt(norm); norm == 0 {
			continue
		}
		alpha := -math.Copysign(norm, a[k*p+k])
		v0 := a[k*p+k] - alpha
		beta := -1 / (alpha * v0) // 2/|v|^2, v[k] = v0
		for j := k + 1; j <= p; j++ {
			s := v0 * at(a, b, k, j, p)
			for i := k + 1; i < m; i++ {
				s += a[i*p+k] * at(a, b, i, j, p)
			}
			s *= beta
			put(a, b, k, j, p, at(a, b, k, j, p)-s*v0)
			for i := k + 1; i < m; i++ {
				put(a, b, i, j, p, at(a, b, i, j, p)-s*a[i*p+k])
			}
		}
		a[k*p+k] = alpha
		for i := k + 1; i < m; i++ {
			a[i*p+k] = 0
		}
	}
	t := triangle{p: p, r: make([]float64, p*p), q: make([]float64, p)}
	copy(t.r, a[:min(m, p)*p])
	copy(t.q, b[:min(m, p)])
	return t
}

// at and put see b as the column p of a.
func at(a, b []float64, i, j, p int) float64 {
	if j == p {
		return b[i]
	}
	return a[i*p+j]
}

func put(a, b []float64, i, j, p int, v float64) {
	if j == p {
		b[i] = v
		return
	}
	a[i*p+j] = v
}

// back solves R x = q; zero pivots give zero components.
func (t triangle) back(q []float64) []float64 {
	x := make([]float64, t.p)
	for i := t.p - 1; i >= 0; i-- {
		s := q[i]
		for j := i + 1; j < t.p; j++ {
			s -= t.r[i*t.p+j] * x[j]
		}
		if d := t.r[i*t.p+i]; d != 0 {
			x[i] = s / d
		}
	}
	return x
}

// damped solves min |R x - q|^2 + lambda |D x|^2.
func (t triangle) damped(lambda float64, d []float64) []float64 {
	p := t.p
	a, b := make([]float64, 2*p*p), make([]float64, 2*p)
	copy(a, t.r)
	copy(b, t.q)
	root := math.Sqrt(lambda)
	for i := range p {
		a[(p+i)*p+i] = root * d[i]
	}
	u := decompose(a, b, 2*p, p)
	return u.back(u.q)
}

// inverse is (R'R)^-1 row by row: the covariance of unit-variance residuals. Parameters
// that are held have none; NaN where R is singular otherwise.
func (t triangle) inverse(held []bool) [][]float64 {
	p := t.p
	inv := make([][]float64, p) // R^-1, column by column
	for c := range p {
		e := make([]float64, p)
		if !held[c] {
			e[c] = 1
		}
		inv[c] = t.back(e)
		if t.r[c*p+c] == 0 && !held[c] {
			for i := range inv[c] {
				inv[c][i] = math.NaN()
			}
		}
	}
	cov := make([][]float64, p)
	for i := range p {
		cov[i] = make([]float64, p)
		for j := range p {
			for c := range p {
				cov[i][j] += inv[c][i] * inv[c][j]
			}
		}
	}
	return cov
}
