package load

// order is that of the matrices: three of them take 37 KiB, of which a row and a matrix
// are in use at a time.
const order = 40

// matrixSum is the weighted sum over the product, worked out in the test by the checksums
// of rows and columns (Huang and Abraham 1984, IEEE Trans. Computers 33:518): the weights
// go through the factors, so that the product is not needed.
const matrixSum = 113988589

// matrix multiplies two matrices of small whole numbers: the product is exact in double
// precision, fused or not, in any order of the sums.
type matrix struct{ a, b, c [order][order]float64 }

func newMatrix() *matrix {
	m := &matrix{}
	m.fill()
	return m
}

func (m *matrix) fill() {
	for i := range order {
		for j := range order {
			m.a[i][j], m.b[i][j] = float64(matrixA(i, j)), float64(matrixB(i, j))
		}
	}
}

func matrixA(i, j int) int { return (7*i+3*j)%23 - 9 }
func matrixB(i, j int) int { return (5*i+11*j)%19 - 7 }

func (m *matrix) run() bool {
	for i := range order {
		row := &m.c[i]
		*row = [order]float64{}
		for k := range order {
			f, b := m.a[i][k], &m.b[k]
			for j := 0; j+3 < order; j += 4 {
				row[j] += f * b[j]
				row[j+1] += f * b[j+1]
				row[j+2] += f * b[j+2]
				row[j+3] += f * b[j+3]
			}
		}
	}
	if m.sum() == matrixSum {
		return true
	}
	m.fill()
	return false
}

func (m *matrix) sum() float64 {
	s := 0.0
	for i := range order {
		for j := range order {
			s += float64((i+1)*(j+2)) * m.c[i][j]
		}
	}
	return s
}
