package load

import "gonum.org/v1/gonum/floats"

const (
	vectorLength = 1024 // two of 8 KiB stay in the first cache
	vectorRounds = 64
)

// vectorSum is the sum of the inner products of a unit: each round gives x.y + 3 x.x. The
// test works it out in whole numbers.
const vectorSum = 319893888

// vector adds a multiple of x to y and takes it away again; all values are whole numbers
// and exact in any order.
type vector struct{ x, y []float64 }

func newVector() *vector {
	v := &vector{make([]float64, vectorLength), make([]float64, vectorLength)}
	v.fill()
	return v
}

func (v *vector) fill() {
	for i := range v.x {
		v.x[i], v.y[i] = float64(vectorX(i)), float64(vectorY(i))
	}
}

func vectorX(i int) int { return (29*i)%127 - 50 }
func vectorY(i int) int { return (41*i)%113 - 30 }

func (v *vector) run() bool {
	sum := 0.0
	for range vectorRounds {
		floats.AddScaled(v.y, 3, v.x)
		sum += floats.Dot(v.x, v.y)
		floats.AddScaled(v.y, -3, v.x)
	}
	if sum == vectorSum {
		return true
	}
	v.fill()
	return false
}
