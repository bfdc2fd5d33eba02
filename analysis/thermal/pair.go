package thermal

import (
	"fmt"
	"math"

	"soakline/analysis/numeric"
)

// Pair is two heat sources on one body: Power[k] and Temp[k] belong to source k.
type Pair struct {
	At    []float64    // s, rising
	Power [2][]float64 // W
	Temp  [2][]float64 // degC
}

// Term is a resistance with the bounds that two models and their errors leave, K/W.
type Term struct{ R, Low, High float64 }

// Cross is what two sources do to each other. Shared is the rise of either per watt of the
// other, one number by reciprocity (Gerstenmaier, Wachutka 2002, Microelectron. J. 33:719).
type Cross struct {
	Own    [2]Term
	Shared Term
	Known  bool   // the shared term is known well enough to be used
	Why    string // why it is not
	RMS    float64
}

// The bounds beyond which the shared term counts as undetermined: half its own size either
// way, and banks of running averages too alike to be told apart (a rule of thumb).
const (
	crossHalf      = 0.5
	crossCondition = 30.0
	crossModel     = 0.01 // relative, of any term: a body is never just two nodes
)

// FitPair fits two models of different structure and takes what they agree on: a reciprocal
// body of two nodes with one coupling and a sensor lag, and free transfer functions of one
// gain and two lags a path, which know no reciprocity. Each interval spans both answers,
// widened by the correlation of the residuals: on a real record of 600 s, plain standard
// errors are 10 times too small.
func FitPair(p Pair) (Cross, error) {
	n := len(p.At)
	for k := range 2 {
		if n < 50 || len(p.Power[k]) != n || len(p.Temp[k]) != n {
			return Cross{}, ErrShort
		}
	}
	for k := range 2 {
		p.Power[k] = filled(p.Power[k])
	}
	rough := p.rough()
	body, err := p.solve(rough.body(), bodyPaths)
	if err != nil {
		return Cross{}, err
	}
	free, err := p.solve(rough.free(), freePaths)
	if err != nil {
		return Cross{}, err
	}
	out := Cross{RMS: body.rms}
	for k := range 2 {
		out.Own[k] = span(body.term(k, k), free.term(k, k))
	}
	out.Shared = span(body.term(0, 1), free.term(0, 1), free.term(1, 0))
	c := p.condition()
	switch half := (out.Shared.High - out.Shared.Low) / 2; {
	case c > crossCondition:
		out.Why = fmt.Sprintf("both powers rise and fall together (condition number %.0f): run one source alone for a while", c)
	case !(half < crossHalf*out.Shared.R):
		out.Why = fmt.Sprintf("two models of the same record leave %.2g to %.2g K/W: hold each load for three times the slowest time constant, one source at a time", out.Shared.Low, out.Shared.High)
	default:
		out.Known = true
	}
	return out, nil
}

// filled holds the last power over gaps, 0 before the first.
func filled(p []float64) []float64 {
	out, last := make([]float64, len(p)), 0.0
	for i, v := range p {
		if !math.IsNaN(v) {
			last = v
		}
		out[i] = last
	}
	return out
}

// span is the mean of several terms by their precision, and the hull of their intervals.
func span(ts ...Term) Term {
	out, w := Term{Low: math.Inf(1), High: math.Inf(-1)}, 0.0
	for _, t := range ts {
		half := max(t.High-t.Low, 1e-9*math.Abs(t.R))
		out.R, w = out.R+t.R/(half*half), w+1/(half*half)
		out.Low, out.High = min(out.Low, t.Low), max(out.High, t.High)
	}
	out.R /= w
	return out
}

// pairFit is one model's answer: gains by path with their errors.
type pairFit struct {
	fit   numeric.Fit
	scale float64
	paths func([]float64) [2][2]Foster
	rms   float64
}

func (f pairFit) term(to, from int) Term {
	gain := func(p []float64) float64 { return f.paths(p)[to][from].Total() }
	r := gain(f.fit.P)
	h := 1.645 * math.Hypot(deviation(f.fit, f.scale, gain), crossModel*r)
	return Term{r, r - h, r + h}
}

// solve fits a model whose last two parameters are the offsets.
func (p Pair) solve(start []numeric.Prior, paths func([]float64) [2][2]Foster) (pairFit, error) {
	n := len(p.At)
	resid := func(x, r []float64) {
		f := paths(x)
		for to := range 2 {
			a, b := f[to][0].NewResponse(p.Power[0][0]), f[to][1].NewResponse(p.Power[1][0])
			for i := range n {
				dt := 0.0
				if i > 0 {
					dt = p.At[i] - p.At[i-1]
				}
				ea, _ := a.Step(p.Power[0][i], dt)
				eb, _ := b.Step(p.Power[1][i], dt)
				if r[to*n+i] = x[len(x)-2+to] + ea + eb - p.Temp[to][i]; math.IsNaN(p.Temp[to][i]) {
					r[to*n+i] = 0
				}
			}
		}
	}
	pr := numeric.Problem{M: 2 * n, Resid: resid, Prior: start, Most: 150, Tol: 1e-7}
	for _, q := range start {
		pr.Start = append(pr.Start, q.Mean)
		pr.Lower, pr.Upper = append(pr.Lower, q.Mean-5*q.SD), append(pr.Upper, q.Mean+5*q.SD)
	}
	fit, err := numeric.Solve(pr)
	if err != nil {
		return pairFit{}, ErrFit
	}
	r := make([]float64, 2*n)
	resid(fit.P, r)
	var v, c float64
	for i := range r {
		v += r[i] * r[i]
		if i > 0 && i != n {
			c += r[i] * r[i-1]
		}
	}
	rho := min(max(c/v, 0), 0.99)
	s2 := v / float64(2*n)
	return pairFit{fit, max(s2, 0.02) * (1 + rho) / (1 - rho), paths, math.Sqrt(s2)}, nil
}

// lagged puts a first-order lag behind a response, by partial fractions.
func lagged(f Foster, tau float64) Foster {
	out := Foster{}
	for i, r := range f.R {
		t := f.Tau[i]
		if math.Abs(t-tau) < 1e-3*t {
			t *= 1.002
		}
		out.R = append(out.R, r*t/(t-tau), -r*tau/(t-tau))
		out.Tau = append(out.Tau, t, tau)
	}
	return out
}

// bodyPaths: ln of two capacities, two resistances to the reference, the coupling, the lag.
func bodyPaths(p []float64) (out [2][2]Foster) {
	n := NewNetwork([]float64{math.Exp(p[0]), math.Exp(p[1])})
	n.Join(0, -1, math.Exp(p[2]))
	n.Join(1, -1, math.Exp(p[3]))
	n.Join(0, 1, math.Exp(p[4]))
	m, err := n.Modes()
	if err != nil {
		nan := Foster{R: []float64{math.NaN()}, Tau: []float64{1}}
		return [2][2]Foster{{nan, nan}, {nan, nan}}
	}
	for to := range 2 {
		for from := range 2 {
			out[to][from] = lagged(m.Transfer(from, to), math.Exp(p[5]))
		}
	}
	return out
}

// freePaths: for each path the gain and ln of two lags.
func freePaths(p []float64) (out [2][2]Foster) {
	for to := range 2 {
		for from := range 2 {
			q := p[3*(2*to+from):]
			out[to][from] = lagged(Foster{R: []float64{q[0]}, Tau: []float64{math.Exp(q[1])}}, math.Exp(q[2]))
		}
	}
	return out
}

// pairStart is a rough size of everything, from the record's own spans.
type pairStart struct {
	own    [2]float64
	first  [2]float64
	length float64
}

func (p Pair) rough() pairStart {
	s := pairStart{length: p.At[len(p.At)-1] - p.At[0]}
	for k := range 2 {
		top, hot := 0.0, math.Inf(-1)
		s.first[k] = math.NaN()
		for i := range p.At {
			top = max(top, p.Power[k][i])
			if t := p.Temp[k][i]; !math.IsNaN(t) {
				hot = max(hot, t)
				if math.IsNaN(s.first[k]) {
					s.first[k] = t
				}
			}
		}
		s.own[k] = max(hot-s.first[k], 1) / max(top, 1e-9)
	}
	return s
}

func (s pairStart) body() []numeric.Prior {
	tau := s.length / 4
	return []numeric.Prior{{Mean: math.Log(tau / s.own[0]), SD: 1.5}, {Mean: math.Log(tau / s.own[1]), SD: 1.5},
		{Mean: math.Log(1.3 * s.own[0]), SD: 1.5}, {Mean: math.Log(1.3 * s.own[1]), SD: 1.5}, {Mean: math.Log(3 * s.own[0]), SD: 2},
		{Mean: math.Log(s.length / 40), SD: 1.5}, {Mean: s.first[0], SD: 1}, {Mean: s.first[1], SD: 1}}
}

func (s pairStart) free() []numeric.Prior {
	var out []numeric.Prior
	for to := range 2 {
		for from := range 2 {
			g := s.own[from]
			if to != from {
				g *= 0.25
			}
			out = append(out, numeric.Prior{Mean: g, SD: 1.5 * g}, numeric.Prior{Mean: math.Log(s.length / 4), SD: 1}, numeric.Prior{Mean: math.Log(s.length / 40), SD: 1})
		}
	}
	return append(out, numeric.Prior{Mean: s.first[0], SD: 1}, numeric.Prior{Mean: s.first[1], SD: 1})
}

// condition is the condition number of the two banks: how alike the two powers look to a
// slow body, by running averages of a quarter of the record.
func (p Pair) condition() float64 {
	tau := (p.At[len(p.At)-1] - p.At[0]) / 4
	a, b := NewBank(tau, tau, 1, p.Power[0][0]), NewBank(tau, tau, 1, p.Power[1][0])
	var x, y []float64
	for i := range p.At {
		if i > 0 {
			a.Push(p.Power[0][i], p.At[i]-p.At[i-1])
			b.Push(p.Power[1][i], p.At[i]-p.At[i-1])
		}
		x, y = append(x, a.X[0]), append(y, b.X[0])
	}
	var sx, sy, sxx, syy, sxy float64
	n := float64(len(x))
	for i := range x {
		sx, sy = sx+x[i]/n, sy+y[i]/n
	}
	for i := range x {
		sxx, syy, sxy = sxx+(x[i]-sx)*(x[i]-sx), syy+(y[i]-sy)*(y[i]-sy), sxy+(x[i]-sx)*(y[i]-sy)
	}
	r := math.Abs(sxy) / math.Sqrt(sxx*syy)
	if math.IsNaN(r) {
		return math.Inf(1)
	}
	return (1 + r) / (1 - r)
}
