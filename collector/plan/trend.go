package plan

import "math"

// blockS is over how long the die is averaged before a trend is drawn through it, s.
const blockS = 1.0

// trend is the course of the die over the last seconds, in block means.
type trend struct {
	spanS  float64
	means  []float64
	from   float64 // start of the block that is being filled, s
	sum, n float64
}

// begin forgets everything; the trend is to be drawn over spanS.
func (t *trend) begin(at, spanS float64) { *t = trend{spanS: spanS, means: t.means[:0], from: at} }

// add takes a reading; a gap of a whole block begins anew.
func (t *trend) add(at, dieC float64) {
	if at >= t.from+blockS {
		if t.n == 0 {
			t.begin(at, t.spanS)
		} else {
			t.means = append(t.means, t.sum/t.n)
			if most := int(math.Ceil(t.spanS / blockS)); len(t.means) > most {
				t.means = append(t.means[:0], t.means[len(t.means)-most:]...)
			}
		}
		t.from += blockS * math.Floor((at-t.from)/blockS)
		t.sum, t.n = 0, 0
	}
	if !math.IsNaN(dieC) {
		t.sum, t.n = t.sum+dieC, t.n+1
	}
}

// change is how far the straight line of least squares moves over the span, K. It is NaN
// until the span is full.
func (t *trend) change() float64 {
	n := len(t.means)
	if n < int(math.Ceil(t.spanS/blockS)) || n < 2 {
		return math.NaN()
	}
	var xy, xx float64
	middle := float64(n-1) / 2
	for i, m := range t.means {
		x := float64(i) - middle
		xy, xx = xy+x*m, xx+x*x
	}
	return xy / xx * float64(n)
}
