package load

import "gonum.org/v1/gonum/floats"

const (
	triadLength  = 1 << 20 // numbers in an array, 8 MiB
	triadSegment = 1 << 14 // numbers of a unit, 128 KiB in each array
	triadScale   = 3
)

// triad goes through three arrays, a segment a unit. A segment's sum is compared with that
// of whole numbers.
type triad struct {
	a, b, c []float64
	want    []float64 // by segment
	next    int
}

func newTriad() *triad {
	t := &triad{a: make([]float64, triadLength), b: make([]float64, triadLength), c: make([]float64, triadLength),
		want: make([]float64, triadLength/triadSegment)}
	t.fill()
	return t
}

func (t *triad) fill() {
	for s := range t.want {
		sum := 0
		for i := s * triadSegment; i < (s+1)*triadSegment; i++ {
			t.b[i], t.c[i] = float64(triadB(i)), float64(triadC(i))
			sum += triadB(i) + triadScale*triadC(i)
		}
		t.want[s] = float64(sum)
	}
}

func triadB(i int) int { return (13 * i) % 101 }
func triadC(i int) int { return (17*i)%89 - 11 }

func (t *triad) run() bool {
	s := t.next
	t.next = (s + 1) % len(t.want)
	from, to := s*triadSegment, (s+1)*triadSegment
	a := t.a[from:to]
	floats.AddScaledTo(a, t.b[from:to], triadScale, t.c[from:to])
	if floats.Sum(a) == t.want[s] {
		return true
	}
	t.fill()
	return false
}
