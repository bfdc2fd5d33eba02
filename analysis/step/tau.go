package step

import (
	"math"

	"soakline/analysis/series"
)

// Hit is one equation for the time constant: the running average reached the long-term
// power at At, with power at Before up to then.
type Hit struct {
	At, Before float64 // s, W
	Dt         float64 // s, the sampling interval there
}

// Tau is the time constant with its 90 % interval, s.
type Tau struct {
	Value, Low, High float64
	// Start is the fitted running average at the first sample, W.
	Start float64
	Why   string
}

const (
	tauLow, tauHigh = 0.3, 400.0 // s
	tauNodes        = 72         // where the average is run
	tauFine         = 1200       // where the posterior is evaluated
	startNodes      = 21
)

// curve holds, for each node of the time constant, the running average where the sample
// of a hit begins, had it started from the power of the first samples, and its greatest
// value before.
type curve struct{ at, peak [tauNodes]float64 }

// History is what the running averages came to by the hits: the costly part of Solve, one
// pass over all samples, which stays right as long as the hits lie in the same samples.
type History struct {
	index  []int
	curves []curve
	p0, t0 float64 // W, s: the first samples
}

// Covers is true where the history is that of these hits.
func (h *History) Covers(s []series.Sample, hits []Hit) bool {
	if len(h.index) != len(hits) {
		return false
	}
	for k := range hits {
		if h.index[k] != sampleOf(s, hits[k]) {
			return false
		}
	}
	return len(hits) > 0
}

func sampleOf(s []series.Sample, h Hit) int { return min(series.Index(s, h.At-1e-9), len(s)-1) }

func nodeTau(i, n int) float64 {
	return tauLow * math.Pow(tauHigh/tauLow, float64(i)/float64(n-1))
}

// NewHistory runs the bank of exponential averages dA/dt = (P - A)/tau (the limiter's own
// law: Rotem et al. 2012, IEEE Micro 32(2):20, from memory) over the measured power and
// notes where each stands at the hits. It is exact for power constant in a sample.
func NewHistory(s []series.Sample, hits []Hit) History {
	out := History{p0: firstPower(s)}
	if len(s) == 0 {
		return out
	}
	out.t0 = s[0].Start()
	b := newBank(out.p0)
	done := 0
	for _, h := range hits {
		k := sampleOf(s, h)
		for ; done < k; done++ {
			b.step(&s[done], s[done].At < s[k].Start()-0.5)
		}
		out.index, out.curves = append(out.index, k), append(out.curves, curve{b.a, b.peak})
		b.peak = [tauNodes]float64{}
	}
	return out
}

// bank is the running averages at all nodes, and the highest that each has been.
type bank struct {
	a, peak, keep, taus [tauNodes]float64
	dt, last            float64
}

func newBank(p0 float64) *bank {
	b := &bank{dt: -1, last: p0}
	for j := range b.taus {
		b.taus[j], b.a[j] = nodeTau(j, tauNodes), p0
	}
	return b
}

// step takes a sample in; clear says that its averages count for the peak.
func (b *bank) step(q *series.Sample, clear bool) {
	if series.Known(q.Power) {
		b.last = q.Power
	}
	if math.Abs(q.Dt-b.dt) > 1e-9 {
		b.dt = q.Dt
		for j := range b.keep {
			b.keep[j] = -math.Expm1(-b.dt / b.taus[j])
		}
	}
	for j := range b.a {
		b.a[j] += b.keep[j] * (b.last - b.a[j])
		if clear && b.a[j] > b.peak[j] {
			b.peak[j] = b.a[j]
		}
	}
}

// firstPower is the mean power of the first two seconds, before any load if there is rest.
func firstPower(s []series.Sample) float64 {
	if len(s) == 0 {
		return math.NaN()
	}
	end := series.Index(s, s[0].At+2)
	p := math.Inf(1)
	for _, b := range series.Blocks(s, 0, max(end, 1), 0.5) {
		if b.Power < p {
			p = b.Power
		}
	}
	if math.IsInf(p, 1) {
		return 0
	}
	return p
}

// Solve finds the time constant from all hits of one long-term power.
//
// Each hit says A(At; tau, a0) = long; its residual is the time by which the average
// would have to be shifted, (A - long) tau/(Before - long), whose uncertainty is the
// sampling interval, the loop's delay and the uncertainty of long. The average a0 at
// the first sample is not known: rest is the likely case, up to the long-term power is
// possible, the less so the lower restWeight. A root counts only as a first passage:
// the average must have stayed below long before. The posterior over (ln tau, a0) is
// evaluated on a grid and summed over a0; its quantiles are the interval, its mode the value,
// or its median where the start is known to have been warm.
func Solve(s []series.Sample, history *History, hits []Hit, long, uLong, warm float64, median bool, th Thresholds) Tau {
	none := Tau{Value: math.NaN(), Low: math.NaN(), High: math.NaN(), Start: math.NaN()}
	p0 := history.p0
	if len(hits) == 0 || !(long > p0*1.02) {
		none.Why = "the first sample was already at the long-term power: no rest was recorded before the burst"
		return none
	}
	curves := make([]curve, len(hits))
	for k, h := range hits {
		curves[k] = history.curves[k]
		curves[k].finish(h, s[history.index[k]].Start())
	}
	var prior [startNodes]float64
	for q := range prior {
		prior[q] = startPenalty(float64(q)/(startNodes-1), warm)
	}
	var mass [tauFine]float64
	total, best, bestStart := 0.0, math.Inf(1), p0
	for i := range mass {
		tau := nodeTau(i, tauFine)
		var sum quadratic
		for k := range curves {
			sum.add(&curves[k], hits[k], i, tau, long-p0, long, uLong, history.t0, th)
		}
		for q := range prior {
			x := float64(q) / (startNodes - 1)
			chi := prior[q] + sum.c + x*(sum.b+x*sum.a)
			if chi < best {
				best, bestStart = chi, p0+x*(long-p0)
			}
			w := math.Exp(-chi / 2)
			mass[i] += w
			total += w
		}
	}
	if best > 16*float64(len(curves)) || total == 0 {
		none.Why = "no running average of the measured power reaches the long-term power when power fell"
		return none
	}
	t := Tau{Start: bestStart}
	t.Value, t.Low, t.High = mode(&mass), quantile(&mass, total, 0.05), quantile(&mass, total, 0.95)
	if median {
		t.Value = quantile(&mass, total, 0.5)
	}
	return t
}

// finish carries the averages from the start of the hit's sample to the hit.
func (c *curve) finish(h Hit, from float64) {
	rest := math.Max(h.At-from, 0)
	for j := range c.at {
		c.at[j] += -math.Expm1(-rest/nodeTau(j, tauNodes)) * (h.Before - c.at[j])
	}
}

// startPenalty is -2 ln of the prior for the average at the first sample, at share x
// of the way from the first power to the long-term power: a spike at rest beside a
// flat part of total weight warm.
func startPenalty(x, warm float64) float64 {
	p := warm / startNodes
	if x == 0 {
		p += 1 - warm
	}
	return -2 * math.Log(p)
}

// quadratic is a penalty a x^2 + b x + c in the share x of the start: a hit's residual is
// linear in it.
type quadratic struct{ a, b, c float64 }

// add adds the squared residual of one hit at the fine node i; lift is what x = 1 adds to
// the average at the first sample, W.
func (q *quadratic) add(c *curve, h Hit, i int, tau, lift, long, uLong, t0 float64, th Thresholds) {
	rate := (h.Before - long) / tau
	u := math.Hypot(uLong, th.MatchW*long) / rate
	w := 1 / (h.Dt*h.Dt/12 + th.UDelayS*th.UDelayS + u*u)
	e := (interpolate(&c.at, i)-long)/rate - th.DelayS // power falls so much later than the average arrives
	by := lift * math.Exp(-(h.At-t0)/tau) / rate
	q.a, q.b, q.c = q.a+w*by*by, q.b+2*w*e*by, q.c+w*e*e
	if over := (interpolate(&c.peak, i) - 1.01*long) / (0.01 * long); over > 0 {
		q.c += over * over
	}
}

// interpolate reads a curve at the fine node i by a parabola through three nodes.
func interpolate(v *[tauNodes]float64, i int) float64 {
	x := float64(i) * (tauNodes - 1) / (tauFine - 1)
	k := min(max(int(math.Round(x)), 1), tauNodes-2)
	d := x - float64(k)
	return v[k] + d*(v[k+1]-v[k-1])/2 + d*d*(v[k+1]-2*v[k]+v[k-1])/2
}

// mode is the most likely time constant, s.
func mode(mass *[tauFine]float64) float64 {
	k := 0
	for i := range mass {
		if mass[i] > mass[k] {
			k = i
		}
	}
	x := float64(k)
	if k > 0 && k < tauFine-1 {
		if bend := mass[k-1] - 2*mass[k] + mass[k+1]; bend < 0 {
			x += (mass[k-1] - mass[k+1]) / (2 * bend)
		}
	}
	return tauLow * math.Pow(tauHigh/tauLow, x/(tauFine-1))
}

func quantile(mass *[tauFine]float64, total, q float64) float64 {
	sum := 0.0
	for i, m := range mass {
		if sum+m >= q*total && m > 0 {
			f := (q*total - sum) / m
			lo := float64(i) - 0.5 + f
			return tauLow * math.Pow(tauHigh/tauLow, lo/(tauFine-1))
		}
		sum += m
	}
	return tauHigh
}
