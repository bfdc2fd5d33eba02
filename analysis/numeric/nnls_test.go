package numeric

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// The conditions of Karush, Kuhn and Tucker are what makes an answer the answer.
func TestNNLSIsOptimal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		m, n := 4+rng.IntN(30), 1+rng.IntN(12)
		a, b := mat.NewDense(m, n, nil), mat.NewVecDense(m, nil)
		for i := range m {
			b.SetVec(i, rng.NormFloat64())
			for j := range n {
				a.Set(i, j, rng.NormFloat64()*math.Exp(3*rng.NormFloat64()))
			}
		}
		if n > 2 && rng.IntN(2) == 0 { // two equal columns
			for i := range m {
				a.Set(i, 1, a.At(i, 0))
			}
		}
		var ata mat.SymDense
		ata.SymOuterK(1, a.T())
		var atb mat.VecDense
		atb.MulVec(a.T(), b)
		x := NNLS(&ata, atb.RawVector().Data)
		for i := range n {
			g := atb.AtVec(i)
			for k := range n {
				g -= ata.At(i, k) * x[k]
			}
			g /= math.Sqrt(ata.At(i, i))
			if x[i] < 0 || g > 1e-6 || x[i] > 0 && math.Abs(g) > 1e-6 {
				t.Fatalf("x[%d] = %g, gradient %g", i, x[i], g)
			}
		}
	})
}

func TestNNLSNonsense(t *testing.T) {
	if NNLS(mat.NewSymDense(1, []float64{1}), []float64{math.NaN()}) != nil || NNLS(mat.NewSymDense(1, []float64{1}), nil) != nil {
		t.Error("nonsense must give nil")
	}
	if x := NNLS(mat.NewSymDense(2, []float64{0, 0, 0, 1}), []float64{0, 2}); x[0] != 0 || math.Abs(x[1]-2) > 1e-9 {
		t.Errorf("an empty column: %v", x)
	}
}
