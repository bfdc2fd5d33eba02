package thermal

import (
	"errors"
	"math"
	"slices"
)

// Foster is Z(t) = sum R_i (1 - exp(-t/Tau_i)): the terms have no place of their own.
type Foster struct {
	R   []float64 // K/W
	Tau []float64 // s
}

// Cauer is a ladder of places: C[k] from node k to the reference, R[k] from node k to
// node k+1, the last R to the reference. Heat enters at node 0, the die.
type Cauer struct {
	R []float64 // K/W
	C []float64 // J/K
}

// ErrLadder says that a ladder is no passive one.
var ErrLadder = errors.New("a ladder needs as many R as C or tau, all of them positive and finite")

func positive(a, b []float64) bool {
	if len(a) == 0 || len(a) != len(b) {
		return false
	}
	for _, v := range append(slices.Clone(a), b...) {
		if !(v > 0) || math.IsInf(v, 1) {
			return false
		}
	}
	return true
}

// Z is the step response in K/W at t seconds.
func (f Foster) Z(t float64) float64 {
	z := 0.0
	for i, r := range f.R {
		z -= r * math.Expm1(-t/f.Tau[i])
	}
	return z
}

// Total is the resistance of the whole path, K/W.
func (f Foster) Total() float64 { return sum(f.R) }

// Total is the resistance of the whole path, K/W.
func (c Cauer) Total() float64 { return sum(c.R) }

func sum(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s
}

// tidy sorts by time constant, merges equal ones and drops terms below 1e-6 of the total,
// which carry nothing and cost digits.
func (f Foster) tidy() Foster {
	idx := make([]int, len(f.R))
	for i := range idx {
		idx[i] = i
	}
	slices.SortFunc(idx, func(a, b int) int {
		if f.Tau[a] < f.Tau[b] {
			return -1
		}
		return 1
	})
	total, out := f.Total(), Foster{}
	for _, i := range idx {
		n := len(out.Tau)
		switch {
		case f.R[i] < 1e-6*total:
		case n > 0 && f.Tau[i] <= out.Tau[n-1]*(1+1e-9):
			out.R[n-1] += f.R[i]
		default:
			out.R, out.Tau = append(out.R, f.R[i]), append(out.Tau, f.Tau[i])
		}
	}
	return out
}
