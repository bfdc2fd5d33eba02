package stats

import "math"

// Line is a straight line y = B0 + B1 x by least squares, with its uncertainties.
type Line struct {
	B0, B1, SE0, SE1 float64
	Cov              float64 // covariance of B0 and B1
	SD               float64 // residual standard deviation
	R2, RSS          float64
	DF               float64
}

// FitLine fits by least squares about the mean of x; all NaN below two distinct x.
func FitLine(x, y []float64) Line {
	n := float64(min(len(x), len(y)))
	mx, my := Mean(x), Mean(y)
	var sxx, sxy, syy float64
	for i := range int(n) {
		dx, dy := x[i]-mx, y[i]-my
		sxx, sxy, syy = sxx+dx*dx, sxy+dx*dy, syy+dy*dy
	}
	if !(sxx > 0) || len(x) != len(y) {
		q := math.NaN()
		return Line{q, q, q, q, q, q, q, q, q}
	}
	l := Line{B1: sxy / sxx, DF: n - 2}
	l.B0 = my - l.B1*mx
	for i := range x {
		r := (y[i] - my) - l.B1*(x[i]-mx)
		l.RSS += r * r
	}
	l.SD = math.Sqrt(l.RSS / l.DF)
	l.SE1 = l.SD / math.Sqrt(sxx)
	l.SE0 = l.SD * math.Sqrt(1/n+mx*mx/sxx)
	l.Cov = -mx * l.SD * l.SD / sxx
	l.R2 = 1 - l.RSS/syy
	return l
}

// At is the line's value at x; the covariance of the two coefficients counts.
func (l Line) At(x float64) Estimate {
	u2 := l.SE0*l.SE0 + x*x*l.SE1*l.SE1 + 2*x*l.Cov
	return Estimate{Value: l.B0 + l.B1*x, SE: math.Sqrt(max(u2, 0)), DF: l.DF}
}
