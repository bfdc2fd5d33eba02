// Package limiter says, for every instant, what held the chip back: from the
// hardware's own reasons where it gives them, else inferred from power, clock and
// temperature and the limits that the trace itself shows.
//
// It takes loads, levels and falls as given and knows nothing of thermal paths.
package limiter

import (
	"math"

	"soakline/analysis/load"
	"soakline/analysis/series"
	"soakline/analysis/step"
)

// Thresholds of the limiter. Shares are relative.
type Thresholds struct {
	LongShare    float64 // sd allowed for power at the long-term limit, 1 s mean
	ShortShare   float64 // the same at the short-term limit
	ClockShare   float64 // sd allowed for the clock at its ceiling
	ThermalK     float64 // sd allowed for the die at its limit; half a code of a whole-degree sensor and some
	Unexplained  float64 // log likelihood of "something else", the floor that every explanation must beat
	Silent       float64 // log likelihood of the clock ceiling where no clock was recorded
	Guess        float64 // log likelihood that a short-term limit loses against the ceiling where nothing but the power of the moment speaks for it
	Stay         float64 // s, mean stay of a limiter, the prior of the hidden Markov chain
	Temper       float64 // share of each sample's evidence that is new: neighbours are correlated
	Shortest     float64 // s, shortest inferred span
	PauseS       float64 // s, shortest pause inside a load that is named idle
	Creep        float64 // 1/K, least growth of power with temperature at a fixed clock: leakage gives 0.001 to 0.006 (common practice, no source)
	Leak         float64 // 1/K, the middle of that range
	LnLeakSD     float64 // sd of its logarithm
	ClockPower   float64 // power goes with the clock to this exponent: between 2 and 3, voltage following (common practice, no source)
	CeilingPrior float64 // -2 ln of the odds that a ceiling rather than a limit holds a burst: common practice, one in three
	EndsS        float64 // s at the two ends of a level that are left out of comparisons between levels
	CreepK       float64 // K, least warming over a burst that shows it
	Dither       float64 // share by which a regulated clock moves at least, 1 s means, noise apart
	FlatPower    float64 // share by which regulated power may scatter, 1 s means
	Open         float64 // s, longest stretch that may still be a burst whose end is to come
	Lasting      float64 // s, shortest stretch of regulated power without a burst before it that shows a long-term limit
	BelowCeiling float64 // share by which a clock must lie below its ceiling to show that something holds it
	Together     float64 // least correlation of power and clock under a thermal governor
	PinnedS      float64 // s, shortest stay at the highest temperature that teaches a thermal limit
	HotFrom      float64 // degC, no thermal limit is learned below this: common practice, no source
}

// Defaults are the thresholds in use.
func Defaults() Thresholds {
	return Thresholds{LongShare: 0.015, ShortShare: 0.015, ClockShare: 0.004, ThermalK: 0.8, Unexplained: -7, Silent: -5,
		Guess: 0.3, Stay: 5, Temper: 0.4, Shortest: 0.5, PauseS: 0.8, Creep: 0.0007, CreepK: 4, EndsS: 0.8, Leak: 0.0022, LnLeakSD: 1, ClockPower: 2.5, CeilingPrior: 1.5, Dither: 0.0012, FlatPower: 0.01, Open: 60, Lasting: 20, BelowCeiling: 0.02, Together: 0.5, PinnedS: 5, HotFrom: 75}
}

// Limits are what the chip was held to.
type Limits struct {
	Long       float64 // W, the long-term power limit as the trace shows it; NaN unknown
	ULong      float64 // W, its standard uncertainty
	LongBasis  string  // how it was recognised
	Short      float64 // W, the short-term limit, or the burst's power where it is none
	UShort     float64 // W
	ShortBinds *bool   // whether Short is a limit; nil unknown
	Odds       float64 // -2 ln of the likelihood of a limit over that of the ceiling, where only these were weighed; 0 where facts decide
	Guessed    bool    // Short is only what the load runs at now, nothing says that it is a limit
	Thermal    float64 // degC
	Learned    bool    // Thermal was learned from the trace, not stated
	Ceiling    float64 // MHz, the highest clock under load; NaN where that was a limit's doing
	Seen       float64 // MHz, that clock: the ceiling is no lower; 0 where Ceiling is known
}

// Stated is what the hardware says of its limits, NaN where it does not.
type Stated struct{ Long, Short, Window, Thermal float64 }

// ReadStated takes the last stated values.
func ReadStated(s []series.Sample) Stated {
	n := math.NaN()
	st := Stated{n, n, n, n}
	take := func(to *float64, v float64) {
		if series.Known(v) && !series.Known(*to) {
			*to = v
		}
	}
	for i := len(s) - 1; i >= 0; i-- {
		take(&st.Long, s[i].LongLimit)
		take(&st.Short, s[i].ShortLimit)
		take(&st.Window, s[i].Window)
		take(&st.Thermal, s[i].ThermalLimit)
		if series.Known(st.Long) && series.Known(st.Short) && series.Known(st.Window) && series.Known(st.Thermal) || len(s)-i > 100 {
			break
		}
	}
	return st
}

// Infer works the limits out from levels and falls.
func Infer(s []series.Sample, spans []load.Span, f step.Found, st Stated, sth step.Thresholds, th Thresholds) Limits {
	l := Limits{Long: math.NaN(), ULong: math.NaN(), Short: math.NaN(), UShort: math.NaN(), Thermal: st.Thermal, Ceiling: Ceiling(s, spans)}
	if !series.Known(l.Thermal) {
		l.Thermal = LearnThermal(s, spans, th)
		l.Learned = series.Known(l.Thermal)
	}
	if level, basis := longLevel(f, l, st, sth, th); series.Known(level) {
		l.Long, l.ULong = poolLevels(f.Levels, level, sth)
		l.LongBasis = basis
	}
	if !series.Known(l.Long) {
		if p := quietLimit(s, f, l, sth, th); series.Known(p) {
			l.Long, l.ULong, l.LongBasis = p, 0.005*p, "power stopped creeping up and the clock gave way to keep it there"
		}
	}
	inferShort(s, f, &l, st, sth, th)
	if !series.Known(l.Short) {
		statedShort(f, &l, st, sth, th)
	}
	if !series.Known(l.Long) && !series.Known(l.Short) {
		briefShort(s, f, &l, sth, th)
	}
	if !series.Known(l.Long) && !series.Known(l.Short) {
		openBurst(s, f, &l, sth, th)
	}
	return l
}

// longLevel picks the level that is the long-term limit, and says why.
func longLevel(f step.Found, l Limits, st Stated, sth step.Thresholds, th Thresholds) (float64, string) {
	for i := range f.Falls {
		if !f.Falls[i].Thermal {
			return f.Levels[f.Falls[i].Level].Power, "the level to which power fell after a burst"
		}
	}
	best, length, basis := math.NaN(), 0.0, ""
	for i := range f.Levels {
		v := &f.Levels[i]
		d := v.To - v.From
		stated := series.Known(st.Long) && math.Abs(v.Power-st.Long) < sth.SameW*st.Long
		if d < sth.Settled && !(stated && d >= 1) || d <= length || v.Scatter > sth.Pinned || v.DieMax >= l.Thermal-sth.HotK {
			continue
		}
		switch {
		case stated:
			best, length, basis = v.Power, d, "the level that matches the limit stated by the hardware"
		case d >= th.Lasting && regulated(v, l.Ceiling, th):
			best, length, basis = v.Power, d, "power held flat while the clock moved to keep it there"
		}
	}
	return best, basis
}

// regulated is true for a level at which power stood and the clock gave way.
func regulated(v *step.Level, ceiling float64, th Thresholds) bool {
	if v.Clock < (1-th.BelowCeiling)*ceiling && v.Scatter <= 1.5*th.FlatPower {
		return !creeps(v.PowerTrend, v.DieTrend, th)
	}
	return v.Scatter <= th.FlatPower && v.ClockMoves >= th.Dither && !creeps(v.PowerTrend, v.DieTrend, th)
}

// briefShort takes a regulated level that never lasts: passes of a load that end before
// the long-term budget is used up are held by the short-term limit.
func briefShort(s []series.Sample, f step.Found, l *Limits, sth step.Thresholds, th Thresholds) {
	yes, length := true, 0.0
	for i := range f.Levels {
		v := &f.Levels[i]
		d := v.To - v.From
		if d < sth.Settled || d <= length || d >= th.Lasting || !regulated(v, l.Ceiling, th) {
			continue
		}
		w, ok := across(s, f.Levels, v.Power, sth, th)
		if ceiling, limit := stories([]warming{w}, th); !ok || limit < ceiling {
			length, l.Short, l.UShort, l.ShortBinds = d, v.Power, v.Se, &yes
		}
	}
}

// creeps is true where power grew with temperature as leakage makes it at a fixed clock.
func creeps(growth, warmer float64, th Thresholds) bool {
	return warmer >= th.CreepK && growth > th.Creep*warmer
}

// statedShort takes a level that matches the stated short-term limit: the burst still
// runs, or its end was not seen.
func statedShort(f step.Found, l *Limits, st Stated, sth step.Thresholds, th Thresholds) {
	if !series.Known(st.Short) || st.Short <= (1+sth.Excess)*st.Long {
		return
	}
	yes := true
	for i := range f.Levels {
		v := &f.Levels[i]
		if v.To-v.From >= 1 && math.Abs(v.Power-st.Short) <= sth.SameW*st.Short {
			l.Short, l.UShort, l.ShortBinds = v.Power, v.Se, &yes
			if v.Clock >= (1-th.ClockShare)*l.Ceiling {
				l.Seen, l.Ceiling = l.Ceiling, math.NaN() // the highest clock was the burst's, and power held that
			}
		}
	}
}

// openBurst looks at a load whose power nothing has explained: one that has just begun, or
// passes that end too soon. Either may be held by the short-term limit as well as by the
// highest clock, unless power grows with temperature at a standing clock, or stands while
// the clock gives way. Later than Open it is no burst: time constants above a minute are
// rare (common practice, no source).
func openBurst(s []series.Sample, f step.Found, l *Limits, sth step.Thresholds, th Thresholds) {
	if len(f.Levels) == 0 || !series.Known(l.Ceiling) {
		return
	}
	v := f.Levels[len(f.Levels)-1]
	for _, u := range f.Levels {
		if u.To-u.From > v.To-v.From {
			v = u
		}
	}
	open := v.To >= s[len(s)-1].At-1
	if d := v.To - v.From; d > th.Open || d > th.Lasting && !open {
		return
	}
	odds := ceilingOdds(s, s[v.First:v.Last], f.Levels, v.Power, sth, th)
	if odds >= th.CeilingPrior {
		return
	}
	l.Short, l.UShort, l.Guessed = v.Power, 0.01*v.Power, true
	if odds < -3*th.CeilingPrior {
		yes := true
		l.ShortBinds, l.Guessed, l.Odds, l.Seen, l.Ceiling = &yes, false, odds, l.Ceiling, math.NaN()
	}
}

// poolLevels is the mean over all held levels that are the same limit, weighted by time;
// over the brief ones where none was held.
func poolLevels(levels []step.Level, at float64, sth step.Thresholds) (mean, u float64) {
	for _, shortest := range []float64{sth.Settled, sth.Brief, 0} {
		var sum, weight, v float64
		for i := range levels {
			l := &levels[i]
			d := l.To - l.From
			if d < shortest || l.Scatter > sth.Pinned || !(math.Abs(l.Power-at) <= sth.SameW*at) {
				continue
			}
			sum += d * l.Power
			weight += d
			v += d * d * l.Se * l.Se
		}
		if weight > 0 {
			return sum / weight, math.Sqrt(v) / weight
		}
	}
	return at, 0.01 * at
}

// Ceiling is the highest clock that was kept for two seconds under load, from means over
// 1 s. A quantile would not do: a burst may be a hundredth of the load. NaN without a
// clock or a load.
func Ceiling(s []series.Sample, spans []load.Span) float64 {
	top := math.NaN()
	for _, sp := range spans {
		was := math.NaN()
		for _, b := range series.Blocks(s, sp.First, sp.Last, 1) {
			if kept := math.Min(b.Clock, was); kept > top || math.IsNaN(top) {
				top = kept
			}
			was = b.Clock
		}
	}
	return top
}
