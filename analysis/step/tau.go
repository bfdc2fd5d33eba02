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

// curve holds, for each node of the time constant, the running average at a hit had
// it started from the power of the first samples, and its greatest value before.
type curve struct{ at, peak [tauNodes]float64 }

func nodeTau(i, n int) float64 {
	return tauLow * math.Pow(tauHigh/tauLow, float64(i)/float64(n-1))
}

// Averages runs the bank of exponential averages dA/dt = (P - A)/tau (the limiter's own
// law: Rotem et al. 2012, IEEE Micro 32(2):20, from memory) over the measured power and
// notes where each stands at the hits. It is exact for power constant in a sample.
func averages(s []series.Sample, hits []Hit) (curves []curve, p0 float64) {
	curves = make([]curve, len(hits))
	var a, peak, keep [tauNodes]float64
	var taus [tauNodes]float64
	for j := range taus {
		taus[j] = nodeTau(j, tauNodes)
	}
	p0 = firstPower(s)
	for j := range a {
		a[j] = p0
	}
	h, dtWas, last := 0, -1.0, p0
	for i := 0; i < len(s) && h < len(hits); i++ {
		for h < len(hits) && s[i].At >= hits[h].At {
			rest := math.Max(hits[h].At-s[i].Start(), 0)
			for j := range a {
				k := -math.Expm1(-rest / taus[j])
				curves[h].at[j] = a[j] + k*(hits[h].Before-a[j])
				curves[h].peak[j] = peak[j]
				peak[j] = 0
			}
			h++
		}
		p := s[i].Power
		if !series.Known(p) {
			p = last
		}
		last = p
		if math.Abs(s[i].Dt-dtWas) > 1e-9 {
			dtWas = s[i].Dt
			for j := range keep {
				keep[j] = -math.Expm1(-dtWas / taus[j])
			}
		}
		clear := h < len(hits) && s[i].At < hits[h].At-0.5
		for j := range a {
			a[j] += keep[j] * (p - a[j])
			if clear && a[j] > peak[j] {
				peak[j] = a[j]
			}
		}
	}
	return curves[:h], p0
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
func Solve(s []series.Sample, hits []Hit, long, uLong, warm float64, median bool, th Thresholds) Tau {
	none := Tau{Value: math.NaN(), Low: math.NaN(), High: math.NaN(), Start: math.NaN()}
	curves, p0 := averages(s, hits)
	if len(curves) == 0 || !(long > p0*1.02) {
		none.Why = "the first sample was already at the long-term power: no rest was recorded before the burst"
		return none
	}
	var mass [tauFine]float64
	total, best, bestStart := 0.0, math.Inf(1), p0
	for i := range mass {
		tau := nodeTau(i, tauFine)
		for q := 0; q < startNodes; q++ {
			x := float64(q) / (startNodes - 1)
			chi := startPenalty(x, warm)
			for h := range curves {
				chi += hitPenalty(&curves[h], hits[h], i, tau, x, p0, long, uLong, s[0].Start(), th)
			}
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

func hitPenalty(c *curve, h Hit, i int, tau, x, p0, long, uLong, t0 float64, th Thresholds) float64 {
	lift := x * (long - p0)
	a := interpolate(&c.at, i) + lift*math.Exp(-(h.At-t0)/tau)
	rate := (h.Before - long) / tau
	e := (a-long)/rate - th.DelayS // power falls so much later than the average arrives
	u := math.Sqrt(h.Dt*h.Dt/12 + th.UDelayS*th.UDelayS + math.Pow(math.Hypot(uLong, th.MatchW*long)/rate, 2))
	chi := math.Pow(e/u, 2)
	if over := interpolate(&c.peak, i) - 1.01*long; over > 0 {
		chi += math.Pow(over/(0.01*long), 2)
	}
	return chi
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
