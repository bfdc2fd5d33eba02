package numeric

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// NNLS minimises |A x - b| over x >= 0 by the active-set method of Lawson, Hanson 1974
// (Solving Least Squares Problems, chapter 23) on the normal equations ata = A'A,
// atb = A'b, so that the cost does not depend on the number of rows. Nil where the sizes
// differ or a number is not finite.
func NNLS(ata mat.Symmetric, atb []float64) []float64 {
	n := len(atb)
	if n == 0 || ata.SymmetricDim() != n || !finite(atb) {
		return nil
	}
	s := activeSet{ata: ata, atb: atb, passive: make([]bool, n), x: make([]float64, n), scale: make([]float64, n)}
	biggest := 0.0
	for i := range n {
		s.scale[i] = math.Sqrt(math.Max(ata.At(i, i), 0))
		if s.scale[i] > 0 {
			biggest = max(biggest, math.Abs(atb[i])/s.scale[i])
		}
	}
	if math.IsNaN(biggest) || math.IsInf(biggest, 0) {
		return nil
	}
	tol := 1e-12 * biggest
	for range 30 * n {
		j := s.mostUseful(tol)
		if j < 0 {
			break
		}
		s.passive[j] = true
		if !s.restore(j) {
			break
		}
	}
	return s.x
}

type activeSet struct {
	ata     mat.Symmetric
	atb     []float64
	passive []bool
	barred  []bool // could not be moved off zero since the last success
	x       []float64
	scale   []float64
}

// mostUseful is the variable at zero whose increase lowers the sum of squares fastest.
func (s *activeSet) mostUseful(tol float64) int {
	best, at := tol, -1
	for i := range s.x {
		if s.passive[i] || s.scale[i] == 0 || (s.barred != nil && s.barred[i]) {
			continue
		}
		w := s.atb[i]
		for k, v := range s.x {
			w -= s.ata.At(i, k) * v
		}
		if w /= s.scale[i]; w > best {
			best, at = w, i
		}
	}
	return at
}

// restore solves on the passive set and drops variables until all are positive. It is
// false where nothing more can be done.
func (s *activeSet) restore(newest int) bool {
	for {
		idx, z := s.solve()
		if z == nil || z[find(idx, newest)] <= 0 && s.x[newest] == 0 {
			// Rounding says that this one cannot grow after all.
			s.passive[newest] = false
			if s.barred == nil {
				s.barred = make([]bool, len(s.x))
			}
			s.barred[newest] = true
			return true
		}
		alpha := 1.0
		for k, i := range idx {
			if z[k] <= 0 {
				alpha = min(alpha, s.x[i]/(s.x[i]-z[k]))
			}
		}
		for k, i := range idx {
			s.x[i] += alpha * (z[k] - s.x[i])
		}
		if alpha == 1 {
			s.barred = nil
			return true
		}
		left := 0
		for k, i := range idx {
			if z[k] <= 0 && s.x[i] <= 1e-14*(1+math.Abs(z[k])) {
				s.x[i], s.passive[i] = 0, false
			} else {
				left++
			}
		}
		if left == 0 || !s.passive[newest] {
			return true
		}
	}
}

func find(idx []int, v int) int {
	for k, i := range idx {
		if i == v {
			return k
		}
	}
	return 0
}

// solve is the unconstrained answer on the passive set, scaled to a unit diagonal.
func (s *activeSet) solve() ([]int, []float64) {
	var idx []int
	for i, p := range s.passive {
		if p {
			idx = append(idx, i)
		}
	}
	n := len(idx)
	a, b := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for r, i := range idx {
		for c := r; c < n; c++ {
			a.SetSym(r, c, s.ata.At(i, idx[c])/(s.scale[i]*s.scale[idx[c]]))
		}
		a.SetSym(r, r, a.At(r, r)*(1+1e-14))
		b.SetVec(r, s.atb[i]/s.scale[i])
	}
	var ch mat.Cholesky
	if !ch.Factorize(a) {
		return idx, nil
	}
	var z mat.VecDense
	if err := ch.SolveVecTo(&z, b); err != nil && z.Len() != n {
		return idx, nil
	}
	out := make([]float64, n)
	for k, i := range idx {
		out[k] = z.AtVec(k) / s.scale[i]
	}
	return idx, out
}

func finite(x []float64) bool {
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
