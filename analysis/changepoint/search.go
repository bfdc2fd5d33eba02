package changepoint

import (
	"math"
	"slices"
)

// Search finds the changes that minimise
//
//	sum over segments of min over m of sum min((y-m)^2, k^2)  +  penalty * changes
//
// exactly, for all numbers of changes at once, by functional pruning (Maidstone, Hocking,
// Rigaill, Fearnhead 2017, Stat. Comput. 27:519; the biweight cost: Fearnhead, Rigaill
// 2019, J. Am. Stat. Assoc. 114:169). k = +Inf is the plain sum of squares. It keeps the
// best cost of everything so far as a piecewise quadratic function of the current mean;
// few pieces stay alive, so the time is near-linear in len(y).
func Search(y []float64, penalty, k float64) []int {
	if len(y) < 2 {
		return nil
	}
	s := newSearch(y, penalty, k)
	last := make([]int32, len(y)) // start of the segment that ends at t, in the best answer
	for t, v := range s.y {
		if t > 0 {
			s.offerChange(int32(t))
		}
		s.add(v)
		last[t] = s.settle()
	}
	var changes []int
	for t := len(y) - 1; ; {
		start := int(last[t])
		if start == 0 {
			break
		}
		changes = append(changes, start)
		t = start - 1
	}
	slices.Reverse(changes)
	return changes
}

// piece is a m^2 + b m + c on lo..hi for a current segment that began at start.
type piece struct {
	lo, hi, a, b, c float64
	start           int32
}

type search struct {
	y              []float64
	penalty, k     float64
	pieces, buffer []piece
}

// newSearch centres the values, which keeps the quadratics well scaled.
func newSearch(y []float64, penalty, k float64) *search {
	lo, hi := slices.Min(y), slices.Max(y)
	mid := lo + (hi-lo)/2
	c := make([]float64, len(y))
	for i, v := range y {
		c[i] = v - mid
	}
	half := (hi-lo)/2 + 1e-12*(1+math.Abs(hi)+math.Abs(lo))
	return &search{y: c, penalty: penalty, k: k, pieces: []piece{{lo: -half, hi: half}}}
}

// offerChange replaces the cost by that of a change just before t where that is cheaper.
// settle has made the least cost 0, so a change costs the penalty whatever came before.
func (s *search) offerChange(t int32) {
	out := s.buffer[:0]
	keep := func(p piece, lo, hi float64) {
		if hi > lo {
			p.lo, p.hi = lo, hi
			out = append(out, p)
		}
	}
	change := func(lo, hi float64) {
		if n := len(out); n > 0 && out[n-1].start == t && out[n-1].hi >= lo {
			out[n-1].hi = max(hi, out[n-1].hi)
		} else if hi > lo {
			out = append(out, piece{lo: lo, hi: hi, c: s.penalty, start: t})
		}
	}
	for _, p := range s.pieces {
		l, h := p.below(s.penalty)
		if !(l < h) {
			change(p.lo, p.hi)
			continue
		}
		change(p.lo, l)
		keep(p, l, h)
		change(h, p.hi)
	}
	s.pieces, s.buffer = out, s.pieces
}

// below is the part of the piece where it is at most v; lo >= hi if there is none.
func (p piece) below(v float64) (lo, hi float64) {
	if p.a == 0 {
		if p.c <= v {
			return p.lo, p.hi
		}
		return p.hi, p.lo
	}
	d := p.b*p.b - 4*p.a*(p.c-v)
	if d <= 0 {
		return p.hi, p.lo
	}
	mid, half := -p.b/(2*p.a), math.Sqrt(d)/(2*p.a)
	return max(p.lo, mid-half), min(p.hi, mid+half)
}

// add charges the next value to every mean.
func (s *search) add(y float64) {
	out := s.buffer[:0]
	put := func(p piece, lo, hi, a, b, c float64) {
		if hi > lo {
			p.lo, p.hi, p.a, p.b, p.c = lo, hi, p.a+a, p.b+b, p.c+c
			out = append(out, p)
		}
	}
	left, right, far := y-s.k, y+s.k, s.k*s.k
	for _, p := range s.pieces {
		put(p, p.lo, min(p.hi, left), 0, 0, far)
		put(p, max(p.lo, left), min(p.hi, right), 1, -2*y, y*y)
		put(p, max(p.lo, right), p.hi, 0, 0, far)
	}
	s.pieces, s.buffer = out, s.pieces
}

// settle subtracts the least cost from all pieces and tells whose it is.
func (s *search) settle() int32 {
	least, start := math.Inf(1), int32(0)
	for _, p := range s.pieces {
		if v := p.least(); v < least {
			least, start = v, p.start
		}
	}
	for i := range s.pieces {
		s.pieces[i].c -= least
	}
	return start
}

func (p piece) least() float64 {
	if p.a == 0 {
		return p.c
	}
	m := min(max(-p.b/(2*p.a), p.lo), p.hi)
	return (p.a*m+p.b)*m + p.c
}
