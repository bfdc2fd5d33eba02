// Package steady decides whether the die has settled under a load and, before that,
// where it is heading and when it will be there.
//
// It takes a fitted path and the samples of one load; it knows nothing of limits.
package steady

import (
	"math"

	"soakline/analysis/path"
	"soakline/analysis/series"
)

// Thresholds of the settled test.
type Thresholds struct {
	BandK    float64 // K about the last temperature within which the die counts as settled
	RemainK  float64 // K, the most that the fitted remainder and its uncertainty may still be
	Shortest float64 // s, shortest settled stretch
	Average  float64 // s over which the die is averaged: a few updates of a sensor that refreshes once a second
	EtaK     float64 // K from the end at which the die counts as there
	FloorK   float64 // K, least standard uncertainty of a settled temperature: q/sqrt(12) for whole degrees
	TrendK   float64 // K, uncertainty of that trend where the reading moves between codes, so that its mean resolves less than one
	CodeK    float64 // K, the same where it stands on one code: its step
}

// Defaults are the thresholds in use.
func Defaults() Thresholds {
	return Thresholds{BandK: 1, RemainK: 1, Shortest: 15, Average: 3, EtaK: 1, FloorK: 0.3, TrendK: 0.15, CodeK: 1}
}

// State is what is known of the settling. NaN is unknown.
type State struct {
	Reached             bool
	Since               float64 // s
	Die, Power          float64 // degC, W: now, or at the end of the load
	Forecast, Low, High float64 // degC
	Eta, EtaLow, EtaHi  float64 // s from the last sample of the load
	Dips                bool    // the load comes in passes or in a duty cycle: Power is the mean over whole ones
	Why                 string

	mean   float64 // degC, of the die while Power was taken
	growth float64 // W/K, by which power grows with the die's temperature
}

// Judge looks at the load of samples first..last-1, whose power has been constant from
// sample level on. ahead is the power that will come, W, where it is known to differ (a
// burst still runs and its end is known); NaN where not. fit may be nil. reference is the temperature that the fit's offset
// is relative to, degC, 0 where the offset is absolute.
func Judge(s []series.Sample, first, last, level int, ahead float64, fit *path.Fit, reference float64, th Thresholds) State {
	n := math.NaN()
	st := State{Since: n, Die: n, Power: n, Forecast: n, Low: n, High: n, Eta: n, EtaLow: n, EtaHi: n}
	if last-first < 3 {
		st.Why = "the load has just begun"
		return st
	}
	part := s[level:last]
	end := part[len(part)-1].At
	held := part
	from, to, whole := cycles(s, first, last)
	dips := whole > 0
	if dips {
		held = s[from:to]
	}
	st.Power, st.mean = series.Mean(held, series.PowerOf), series.Mean(held, series.DieOf)
	bursting := series.Known(ahead) && ahead < 0.95*st.Power
	switch {
	case bursting:
		st.Power = ahead
	case dips && whole < 3 && atLimit(held, ahead) > 0.5 && math.Abs(st.Power/ahead-1) < 0.12:
		st.Power = 0.995 * ahead // bursts after the dips make up for them
	case dips && st.Power > ahead:
		st.Power = ahead
	}
	st.Dips = dips
	tail := part
	if k := series.Index(part, end-math.Max(th.Average, math.Min(10, (end-part[0].At)/4))); k < len(part)-1 {
		tail = part[k:]
	}
	st.Die = series.Mean(tail, series.DieOf)
	if !series.Known(st.Die) || !series.Known(st.Power) {
		st.Why = "no die temperature or no power under load"
		return st
	}
	since, trend := settledSince(s, level, last, st.Die, th)
	if fit != nil {
		if !bursting && !dips {
			st.growth = growth(part, th)
		}
		predict(&st, fit, reference, th)
	} else {
		st.Why = "the path of the heat is not known yet"
	}
	if doubt := stopped(s, first, last); doubt != "" {
		st.Why = doubt
		st.Forecast, st.Low, st.High, st.Eta, st.EtaLow, st.EtaHi = n, n, n, n, n, n
		return st
	}
	st.Reached = !bursting && settled(&st, fit, end-since, trend, trendError(series.Within(part, since, end), th), th)
	if st.Reached {
		st.Since = since
		finish(&st, th)
	} else if st.Why == "" {
		st.Why = "still moving"
		if bursting {
			st.Why = "the burst still runs; the forecast is for the long-term limit after it"
		}
	}
	return st
}

// settledSince is the earliest time from which the averaged die stayed within the band
// about its last value, and the trend over that stretch in K. A coarse reading enters
// the band half a code too early and leaves it half a code too late: the time is the
// middle of the two.
func settledSince(s []series.Sample, first, last int, die float64, th Thresholds) (since, trend float64) {
	blocks := series.Blocks(s, first, last, th.Average)
	half := path.Resolution(s[first:last]) / 2
	if half < 0.1 {
		half = 0
	}
	k, inner := stays(blocks, die, th.BandK+0.1*half), stays(blocks, die, th.BandK-half)
	if k == len(blocks) {
		return s[last-1].At, math.Inf(1)
	}
	since = blocks[k].From
	if inner < len(blocks) {
		since = (since + blocks[inner].From) / 2
	}
	var w, x, y, xx, xy float64
	for _, b := range blocks[k:] {
		if series.Known(b.Die) {
			t := (b.From + b.To) / 2
			w, x, y, xx, xy = w+1, x+t, y+b.Die, xx+t*t, xy+t*b.Die
		}
	}
	if d := w*xx - x*x; w > 2 && d > 0 {
		trend = (w*xy - x*y) / d * (blocks[len(blocks)-1].To - blocks[k].From)
	}
	return since, trend
}

// stays is the first block from which the die stays within band of a temperature.
func stays(b []series.Block, die, band float64) int {
	k := len(b)
	for k > 0 && !(math.Abs(b[k-1].Die-die) > band) {
		k--
	}
	return k
}

// settled asks for a long enough stretch within the band, and then
// that what may still come is small: either by the fitted path, or by the trend itself,
// since an exponential remainder a of time constant tau shows over a stretch W as a
// trend of a (exp(W/tau)-1).
func settled(st *State, fit *path.Fit, held, trend, u float64, th Thresholds) bool {
	if held < th.Shortest {
		return false
	}
	if fit == nil {
		return held > 300
	}
	if math.Max(math.Abs(st.High-st.Die), math.Abs(st.Low-st.Die)) < th.RemainK {
		return true
	}
	return (math.Abs(trend)+u)/math.Expm1(held/slowest(fit)) < th.RemainK
}

// trendError is the uncertainty of a trend: that of a mean where the reading moves
// between codes, a whole code where it does not.
func trendError(s []series.Sample, th Thresholds) float64 {
	moves, n := 0.0, 0.0
	was := math.NaN()
	for i := range s {
		if v := s[i].Die; series.Known(v) {
			if series.Known(was) && v != was {
				moves++
			}
			was = v
			n++
		}
	}
	if moves >= 8 && moves > 0.01*n {
		return th.TrendK
	}
	return th.CodeK
}

// slowest is the time constant of the slowest stage that carries a twentieth of the
// path or more.
func slowest(f *path.Fit) float64 {
	total, slow := path.Total(f.R), 0.0
	for k := range f.R {
		if f.R[k] > 0.05*total && f.Tau[k] > slow {
			slow = f.Tau[k]
		}
	}
	return slow
}

// predict takes the end temperature and the way there from the fitted path: every
// stage goes to R P from where the measured power has brought it.
func predict(st *State, f *path.Fit, reference float64, th Thresholds) {
	if st.growth > 0 {
		now := st.Die
		for range 8 {
			end := reference + f.Offset + f.End(&f.Path, st.Power+st.growth*(now-st.mean), reference)
			now += math.Min(math.Max(end-now, -30), 30) * 0.7
		}
		st.Power += st.growth * (now - st.mean)
	}
	rise := func(p *path.Path) float64 { return f.End(p, st.Power, reference) }
	st.Forecast = reference + f.Offset + rise(&f.Path)
	end := func(p *path.Path) float64 { return rise(p) + p.Offset - f.Offset }
	low, high := f.Interval(end)
	floor := 1.645 * th.FloorK
	st.Low = st.Forecast - math.Hypot(rise(&f.Path)-low, floor)
	st.High = st.Forecast + math.Hypot(high-rise(&f.Path), floor)
	eta := func(p *path.Path) float64 {
		then := f.Then(p, st.Forecast)
		return 1 + f.TimeTo(&then, st.Power, th.EtaK)
	}
	st.Eta = eta(&f.Path) - 1
	st.EtaLow, st.EtaHi = f.Interval(eta)
	st.EtaLow, st.EtaHi = math.Max(st.EtaLow-1, 0), st.EtaHi-1
}

// finish states a settled temperature. Where the fit agrees that nothing more will come
// its forecast and interval stand; where the trend alone says so, the measured
// temperature does, with what the trend leaves open.
func finish(st *State, th Thresholds) {
	if !(math.Max(math.Abs(st.High-st.Die), math.Abs(st.Low-st.Die)) < th.RemainK) {
		u := 1.645 * math.Hypot(th.FloorK, th.RemainK/3)
		st.Forecast, st.Low, st.High = st.Die, st.Die-u, st.Die+u
	}
	st.Eta, st.EtaLow, st.EtaHi = 0, 0, 0
	st.Why = ""
}

// growth is by how many watts power grows with each kelvin of the die: leakage, where no
// limit of power holds it. It is drawn towards none by as much as the stretch leaves open.
func growth(s []series.Sample, th Thresholds) float64 {
	var n, x, y, xx, xy, yy float64
	for _, b := range series.Blocks(s, 0, len(s), th.Average) {
		if series.Known(b.Die) && series.Known(b.Power) {
			n, x, y, xx, xy, yy = n+1, x+b.Die, y+b.Power, xx+b.Die*b.Die, xy+b.Die*b.Power, yy+b.Power*b.Power
		}
	}
	if n < 8 {
		return 0
	}
	x, y = x/n, y/n
	sxx, sxy, syy := xx-n*x*x, xy-n*x*y, yy-n*y*y
	if !(sxx > 0) {
		return 0
	}
	slope := sxy / sxx
	v := math.Max(syy-slope*sxy, 0) / (n - 2) / sxx
	prior := 0.004 * y
	return math.Min(math.Max(slope*prior*prior/(prior*prior+v), 0), 0.01*y)
}

// atLimit is the share of time that power stays at a limit.
func atLimit(s []series.Sample, limit float64) float64 {
	at, all := 0.0, 0.0
	for i := range s {
		all += s[i].Dt
		if math.Abs(s[i].Power/limit-1) < 0.04 {
			at += s[i].Dt
		}
	}
	return at / all
}
