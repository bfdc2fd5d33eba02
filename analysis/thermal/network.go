package thermal

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Network is a linear reciprocal body of heat nodes: C_i dT_i/dt = P_i - sum_j G_ij T_j,
// temperatures over the reference.
type Network struct {
	C []float64     // J/K
	G *mat.SymDense // W/K, conductances between nodes (off the diagonal, negative) and to the reference
}

// NewNetwork has nodes of these capacities and no conductance yet.
func NewNetwork(c []float64) Network { return Network{C: c, G: mat.NewSymDense(len(c), nil)} }

// Join puts a resistance between two nodes, or between node i and the reference for j < 0.
func (n Network) Join(i, j int, r float64) {
	g := 1 / r
	n.G.SetSym(i, i, n.G.At(i, i)+g)
	if j >= 0 {
		n.G.SetSym(j, j, n.G.At(j, j)+g)
		n.G.SetSym(i, j, n.G.At(i, j)-g)
	}
}

// Modes are the normal modes of a network.
type Modes struct {
	Tau []float64 // s, rising
	// shape[m][i] is the share of mode m at node i, scaled by 1/sqrt(C_i).
	shape [][]float64
}

// Modes solves the eigenproblem of C^-1/2 G C^-1/2.
func (n Network) Modes() (Modes, error) {
	k := len(n.C)
	a := mat.NewSymDense(k, nil)
	for i := range k {
		if !(n.C[i] > 0) {
			return Modes{}, ErrLadder
		}
		for j := i; j < k; j++ {
			a.SetSym(i, j, n.G.At(i, j)/math.Sqrt(n.C[i]*n.C[j]))
		}
	}
	var e mat.EigenSym
	if !e.Factorize(a, true) {
		return Modes{}, ErrLadder
	}
	var v mat.Dense
	e.VectorsTo(&v)
	var m Modes
	for j := k - 1; j >= 0; j-- {
		l := e.Values(nil)[j]
		if !(l > 0) {
			return Modes{}, ErrLadder
		}
		shape := make([]float64, k)
		for i := range shape {
			shape[i] = v.At(i, j) / math.Sqrt(n.C[i])
		}
		m.Tau, m.shape = append(m.Tau, 1/l), append(m.shape, shape)
	}
	return m, nil
}

// Transfer is the response of node out to heat at node in. Terms may be negative where
// they are not the same node; in and out may be swapped (reciprocity).
func (m Modes) Transfer(in, out int) Foster {
	f := Foster{}
	for k, tau := range m.Tau {
		f.R = append(f.R, m.shape[k][in]*m.shape[k][out]*tau)
		f.Tau = append(f.Tau, tau)
	}
	return f
}

// Network is the ladder as a general body, node 0 the die.
func (c Cauer) Network() Network {
	n := NewNetwork(c.C)
	for k, r := range c.R {
		next := k + 1
		if next == len(c.R) {
			next = -1
		}
		n.Join(k, next, r)
	}
	return n
}

// Foster converts to the sum of exponentials at the die, by the eigenvalues of the
// symmetrised ladder.
func (c Cauer) Foster() (Foster, error) {
	if !positive(c.R, c.C) {
		return Foster{}, ErrLadder
	}
	m, err := c.Network().Modes()
	if err != nil {
		return Foster{}, err
	}
	return m.Transfer(0, 0), nil
}
