package series

import (
	"math"
	"sort"
)

// Index is the first sample that ends after t.
func Index(s []Sample, t float64) int {
	return sort.Search(len(s), func(i int) bool { return s[i].At > t })
}

// Within is the part of s whose intervals lie in (from, to].
func Within(s []Sample, from, to float64) []Sample {
	a, b := Index(s, from), Index(s, to)
	if b < a {
		b = a
	}
	return s[a:b]
}

// Mean is the time-weighted mean of a quantity over samples, NaN where none is known.
func Mean(s []Sample, of func(*Sample) float64) float64 {
	var m mean
	for i := range s {
		m.add(of(&s[i]), s[i].Dt)
	}
	return m.value()
}

// The quantities, for Mean and its like.
func PowerOf(s *Sample) float64   { return s.Power }
func DieOf(s *Sample) float64     { return s.Die }
func ClockOf(s *Sample) float64   { return s.Clock }
func LoadOf(s *Sample) float64    { return s.Load }
func AmbientOf(s *Sample) float64 { return s.Ambient }
func FanOf(s *Sample) float64     { return s.Fan }

// Block is a mean over a stretch of at least the asked width.
type Block struct {
	From, To    float64 // s
	Power       float64 // W
	Die         float64 // degC
	Clock       float64 // MHz
	First, Last int     // samples First..Last-1
}

// Blocks cuts samples first..last-1 into stretches of at least width seconds; a
// remainder shorter than half of that is left to the block before.
func Blocks(s []Sample, first, last int, width float64) []Block {
	var out []Block
	for i := first; i < last; {
		var p, d, c mean
		j, dt := i, 0.0
		for j < last && dt < width-1e-9 {
			p.add(s[j].Power, s[j].Dt)
			d.add(s[j].Die, s[j].Dt)
			c.add(s[j].Clock, s[j].Dt)
			dt += s[j].Dt
			j++
		}
		b := Block{From: s[i].Start(), To: s[j-1].At, Power: p.value(), Die: d.value(), Clock: c.value(), First: i, Last: j}
		if dt < width/2 && len(out) > 0 {
			out[len(out)-1].To, out[len(out)-1].Last = b.To, b.Last
		} else {
			out = append(out, b)
		}
		i = j
	}
	return out
}

// Deviation is the time-weighted mean and standard deviation of a quantity.
func Deviation(s []Sample, of func(*Sample) float64) (mu, sd float64) {
	mu = Mean(s, of)
	var m mean
	for i := range s {
		d := of(&s[i]) - mu
		m.add(d*d, s[i].Dt)
	}
	return mu, math.Sqrt(m.value())
}
