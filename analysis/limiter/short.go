package limiter

import (
	"math"
	"slices"

	"soakline/analysis/series"
	"soakline/analysis/step"
)

// inferShort reads the burst's power before the first fall that was no heat's doing and
// decides whether it was a limit.
func inferShort(s []series.Sample, f step.Found, l *Limits, st Stated, sth step.Thresholds, th Thresholds) {
	length := 0.0
	for i := range f.Falls {
		if !f.Falls[i].Thermal {
			length = math.Max(length, f.Falls[i].At-f.Falls[i].BurstFrom)
		}
	}
	best, high := -1, 0.0 // the highest of the long ones: a later one may have been held lower by heat
	for i := range f.Falls {
		g := &f.Falls[i]
		if !g.Thermal && g.At-g.BurstFrom >= length/2 && g.Before > 1.01*high {
			best, high = i, g.Before
		}
	}
	if best < 0 {
		return
	}
	fall := f.Falls[best]
	settle := math.Min(0.3, (fall.At-fall.BurstFrom)/4)
	burst := series.Within(s, fall.BurstFrom+settle, fall.At)
	if len(burst) == 0 {
		l.Short, l.UShort = fall.Before, 0.01*fall.Before
		return
	}
	p := powers(burst)
	if len(p) == 0 {
		return
	}
	top := upper(p, 0.9)
	_, spread := series.Deviation(burst, series.PowerOf)
	constant := spread < 0.03*top
	var sum, n float64
	for _, v := range p {
		if constant || v >= 0.97*top {
			sum += v
			n++
		}
	}
	l.Short = sum / n
	l.UShort = math.Max(spreadOf(p, l.Short, constant, top)/math.Sqrt(math.Max(n/4, 1)), 0.003*l.Short)
	clipped := !constant && n >= 0.2*float64(len(p))
	l.ShortBinds = binds(s, burst, f.Levels, l, st, sth, th, clipped)
	if c := series.Mean(burst, series.ClockOf); l.ShortBinds != nil && *l.ShortBinds && c >= 0.99*l.Ceiling {
		l.Seen, l.Ceiling = l.Ceiling, math.NaN() // the highest clock was the burst's, and power held that
	}
}

// spreadOf is the sd of the powers that count as the burst's level.
func spreadOf(p []float64, mean float64, constant bool, top float64) float64 {
	v, n := 0.0, 0.0
	for _, x := range p {
		if constant || x >= 0.97*top {
			v += (x - mean) * (x - mean)
			n++
		}
	}
	if n < 2 {
		return 0.01 * mean
	}
	return math.Sqrt(v / (n - 1))
}

// binds decides whether the burst's power was the short-term limit: the hardware's own
// word first, then the clock (it stands still at its ceiling while power creeps up with
// leakage; under a power limit it is power that stands still and the clock gives way),
// then a demand that varies yet is clipped at one power. Nil where nothing can tell.
func binds(s, burst []series.Sample, levels []step.Level, l *Limits, st Stated, sth step.Thresholds, th Thresholds, clipped bool) *bool {
	yes, no := true, false
	if heated(burst, l.Thermal, sth) {
		return &no
	}
	if series.Known(st.Short) {
		switch {
		case math.Abs(l.Short-st.Short) <= sth.SameW*st.Short:
			return &yes
		case l.Short < st.Short:
			return &no
		}
	}
	if c := series.Mean(burst, series.ClockOf); series.Known(c) {
		if c < (1-5*th.ClockShare)*l.Ceiling || clipped { // the clock can go higher, or gives way
			return &yes
		}
		l.Odds = ceilingOdds(s, burst, levels, l.Short, sth, th)
		switch odds := l.Odds; {
		case odds >= th.CeilingPrior:
			return &no
		case odds < -th.CeilingPrior/2:
			return &yes
		}
		return nil
	}
	if clipped {
		return &yes
	}
	return nil
}

// ceilingOdds is how much better the ceiling explains a burst than a limit, in -2 ln of a
// likelihood, by what power and clock did from its first third to its last and from pass to
// pass of the load.
func ceilingOdds(s, burst []series.Sample, levels []step.Level, power float64, sth step.Thresholds, th Thresholds) float64 {
	n := max(len(burst)/3, 1)
	first, last := burst[:n], burst[len(burst)-n:]
	w := warming{t: math.Max(series.Mean(last, series.DieOf)-series.Mean(first, series.DieOf), 0)}
	w.p, w.up = growth(first, last, series.PowerOf)
	w.f, w.uf = growth(first, last, series.ClockOf)
	if !series.Known(w.t) {
		w.t = 0
	}
	all := []warming{w}
	if w, ok := across(s, levels, power, sth, th); ok {
		all = append(all, w)
	}
	ceiling, limit := stories(all, th)
	return limit - ceiling
}

func square(x float64) float64 { return x * x }

// growth is by which share a quantity grew and its standard uncertainty, from the
// scatter within, its correlation from sample to sample allowed for by a factor.
func growth(first, last []series.Sample, of func(*series.Sample) float64) (share, u float64) {
	a, sa := series.Deviation(first, of)
	b, sb := series.Deviation(last, of)
	const correlated = 1.5
	u = correlated * math.Hypot(sa, sb) / a / math.Sqrt(float64(max(len(first)-1, 1)))
	return b/a - 1, math.Max(u, 2e-4)
}

// heated is true where heat held the burst for a third of its time or more.
func heated(burst []series.Sample, limitC float64, sth step.Thresholds) bool {
	var hot, all float64
	for i := range burst {
		all += burst[i].Dt
		if burst[i].DieMax >= limitC-sth.HotK {
			hot += burst[i].Dt
		}
	}
	return hot > all/3
}

func powers(s []series.Sample) []float64 {
	var p []float64
	for i := range s {
		if series.Known(s[i].Power) {
			p = append(p, s[i].Power)
		}
	}
	return p
}

// upper is the quantile q of v, NaN of none. It sorts a copy.
func upper(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	c := slices.Clone(v)
	slices.Sort(c)
	return c[min(int(q*float64(len(c))), len(c)-1)]
}
