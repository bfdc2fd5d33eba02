package analysis

import (
	"fmt"
	"math"

	"soakline/analysis/headroom"
	"soakline/analysis/load"
	"soakline/analysis/path"
	"soakline/analysis/series"
	"soakline/analysis/steady"
)

// settle answers where the heat goes: the path, the steady state and the headroom.
func (a *answer) settle(r *Result) {
	r.Steady, r.ThermalPath, r.Headroom = unknownSteady(), unknownPath(), unknownHeadroom()
	sp, ok := a.mainLoad()
	if !ok {
		r.Steady.Why, r.ThermalPath.Why, r.Headroom.Why = "no load was seen", "no load was seen", "no load was seen"
		a.limitC(r)
		return
	}
	known, why := a.fit(sp)
	level := a.lastLevel(sp)
	reference := 0.0
	if known != nil && known.Measured {
		reference = series.Mean(a.s[max(sp.Last-600, level):sp.Last], series.AmbientOf)
	}
	st := steady.Judge(a.s, a.held(sp), sp.Last, level, a.ahead(sp), known, reference, a.o.th.Steady)
	r.Steady = steadyOf(st)
	if known == nil {
		r.ThermalPath.Why, r.Headroom.Why = why, why
		a.limitC(r)
		return
	}
	a.pathOf(r, known, st, reference)
	a.headroomOf(r, known, st, level, sp)
}

// keptFit is the last fit of the path and what it was made from.
type keptFit struct {
	samples, generation int
	fit                 path.Fit
	why                 string
}

// fit runs the path over the samples up to the last whole five seconds of the trace
// (each second in the first minute of a load that comes early; ten and twenty seconds
// later on, where a fit takes longer and changes less): the costly part, kept until there is
// more. What it uses depends on the trace alone, not on when it was asked for.
func (a *answer) fit(sp load.Span) (*path.Fit, string) {
	now, grid := a.s[len(a.s)-1].At, 5.0
	switch since, age := now-sp.From, now-a.s[0].At; {
	case since < 60 && age < 300:
		grid = 1
	case since > 600:
		grid = 20
	case since > 60 && age > 600: // many rows: a fit takes long
		grid = 10
	}
	n := series.Index(a.s, math.Floor(now/grid)*grid)
	k := &a.o.kept
	if k.samples != n || k.generation != a.o.store.Generation+1 {
		k.samples, k.generation = n, a.o.store.Generation+1
		k.fit, k.why = path.Run(a.s[:n], a.earlier(), a.o.th.Path)
	}
	if k.why != "" {
		return nil, k.why
	}
	return &k.fit, ""
}

// mainLoad is the load that the answers are about: the one that still runs, else the
// one that lasted longest. Heat does not know short pauses: passes and duty cycles are
// one load here.
func (a *answer) mainLoad() (load.Span, bool) {
	if len(a.load.Spans) == 0 {
		return load.Span{}, false
	}
	joined := []load.Span{a.load.Spans[0]}
	for _, sp := range a.load.Spans[1:] {
		last := &joined[len(joined)-1]
		if pause := sp.From - last.To; pause < longestPause && pause < 0.8*math.Min(last.To-last.From, sp.To-sp.From+longestPause) {
			last.To, last.Last = sp.To, sp.Last
		} else {
			joined = append(joined, sp)
		}
	}
	last := joined[len(joined)-1]
	if a.s[len(a.s)-1].At-last.To < longestPause {
		return last, true
	}
	best := last
	for _, sp := range joined {
		if sp.To-sp.From > best.To-best.From {
			best = sp
		}
	}
	return best, true
}

// longestPause is the pause within a load that comes in passes or in a duty cycle, s.
const longestPause = 8.0

// lastLevel is the first sample of the constant power at the end of a load; where power
// never settled, of its last part.
func (a *answer) lastLevel(sp load.Span) int {
	k, until := -1, 0.0
	for i := range a.steps.Levels {
		l := &a.steps.Levels[i]
		if l.First >= sp.First && l.Last <= sp.Last && l.To-l.From >= a.o.th.Step.Settled {
			same := k >= 0 && math.Abs(l.Power-a.steps.Levels[k].Power) < a.o.th.Step.SameW*l.Power
			until = l.To
			if same {
				continue // the same level goes on, dips or not
			}
			k = i
		}
	}
	if k >= 0 && (until >= sp.From+(sp.To-sp.From)/2 || sp.To-until < 2) {
		return a.steps.Levels[k].First
	}
	from := math.Max(sp.From, sp.To-math.Max(30, (sp.To-sp.From)/3))
	return min(max(series.Index(a.s, from), sp.First), sp.Last-1)
}

// held is the first sample of a load after the budget of its first burst was used up.
func (a *answer) held(sp load.Span) int {
	for _, f := range a.steps.Falls {
		if f.At > sp.From && f.At < sp.To-20 {
			return series.Index(a.s, f.At)
		}
	}
	return sp.First
}

// ahead is the long-term limit that a burst will fall to, W, NaN where it is not known.
func (a *answer) ahead(sp load.Span) float64 {
	if series.Known(a.limits.Long) {
		return a.limits.Long
	}
	return a.stated.Long
}

// earlier is the path of the latest earlier result that has one.
func (a *answer) earlier() *path.Prior {
	for i := len(a.o.options.Earlier) - 1; i >= 0; i-- {
		if p := a.o.options.Earlier[i].ThermalPath.posterior; p != nil {
			return p
		}
	}
	return nil
}

func steadyOf(st steady.State) Steady {
	return Steady{Reached: st.Reached, SinceS: Number(st.Since), TemperatureC: Number(st.Die), PowerW: Number(st.Power),
		ForecastC: Number(st.Forecast), ForecastLowC: Number(st.Low), ForecastHighC: Number(st.High),
		EtaS: Number(st.Eta), EtaLowS: Number(st.EtaLow), EtaHighS: Number(st.EtaHi), Why: st.Why}
}

// pathOf states the resistance with its budget after JCGM 100:2008, 5.1: the relative
// variances of rise and power add. Errors common to all traces of one machine (the
// sensor's class, the meter's gain) are left out, as they cancel between its runs.
func (a *answer) pathOf(r *Result, f *path.Fit, st steady.State, reference float64) {
	p := &r.ThermalPath
	p.ReferenceC = Number(reference + f.Offset)
	p.ReferenceSource = "idle temperature before the load, less its own rise"
	if f.Measured {
		p.ReferenceC, p.ReferenceSource = Number(reference), "ambient temperature"
	} else {
		a.warn("no ambient temperature was measured: the reference is worked out from the temperature at rest")
	}
	total := func(d *path.Path) float64 { return f.End(d, st.Power, reference) / st.Power }
	rth := total(&f.Path)
	p.posterior = f.Prior()
	low, high := f.Interval(total)
	if f.Measured {
		p.OffsetK = Number(f.Offset)
	}
	// Where the load comes in passes or is not over, the fit and what it last missed by.
	late := f.Late / st.Power
	rth, low, high = rth+late, low+late, high+late
	if st.Reached && !st.Dips {
		rth, low, high = a.settledRth(p, f, st, reference, rth, (high-low)/(2*normal90))
	}
	p.RthKPerW, p.RthLowKPerW, p.RthHighKPerW = Number(rth), Number(low), Number(high)
	for k := range f.R {
		p.Stages = append(p.Stages, Stage{Number(f.R[k]), Number(f.Tau[k])})
	}
	near := func(d *path.Path) float64 { return path.Near(d, a.o.th.Path) }
	nearR := near(&f.Path)
	u := math.Hypot(f.Spread(near), a.o.th.Path.SplitSD)
	p.NearKPerW, p.FarKPerW = Number(nearR), Number(rth-nearR)
	p.NearLowKPerW, p.NearHighKPerW = Number(nearR*math.Exp(-normal90*u)), Number(nearR*math.Exp(normal90*u))
	uFar := math.Hypot(u*nearR, (high-low)/(2*normal90))
	p.FarLowKPerW, p.FarHighKPerW = Number(math.Max(rth-nearR-normal90*uFar, 0)), Number(rth-nearR+normal90*uFar)
}

// settledRth is the resistance of a settled load: the rise over the measured reference,
// less the offset between the two sensors as the fit knows it, over power. The fit's own
// sum would be that of all of the trace, cooling with a slower fan included. Where no
// reference is measured the rest before the load is the second state.
func (a *answer) settledRth(p *ThermalPath, f *path.Fit, st steady.State, reference, rth, uFit float64) (r, low, high float64) {
	th := a.o.th
	if !f.Measured {
		v, u, zero, ok := a.twoStates(st)
		if !ok {
			return rth, rth - normal90*uFit, rth + normal90*uFit
		}
		p.ReferenceC = Number(zero)
		return v, v - normal90*u, v + normal90*u
	}
	rise := st.Die - reference - f.Offset
	r = rise / st.Power
	u := r * math.Hypot(math.Hypot(f.OffsetSD(), th.Steady.FloorK)/rise, th.MeterShare)
	return r, r - normal90*u, r + normal90*u
}

// twoStates takes the rest before the load as a second state, which needs no measured
// reference: R = (T_a - T_b)/(P_a - P_b). Where the machine cooled to rest afterwards
// as well, the two answers differ by what fans and the room did meanwhile, and their
// difference is the uncertainty. zero is the temperature at no power, degC.
func (a *answer) twoStates(st steady.State) (r, u, zero float64, ok bool) {
	sp, _ := a.mainLoad()
	before := series.Within(a.s, a.s[0].At, sp.From)
	if len(before) == 0 {
		return 0, 0, 0, false
	}
	span := before[len(before)-1].At - before[0].Start()
	before = series.Within(before, sp.From-math.Min(10, span/2), sp.From)
	t, p := series.Mean(before, series.DieOf), series.Mean(before, series.PowerOf)
	if !(st.Power-p > 0.2*st.Power) || !series.Known(t) {
		return 0, 0, 0, false
	}
	r = (st.Die - t) / (st.Power - p)
	u = r * math.Hypot(2*a.o.th.Steady.FloorK/(st.Die-t), a.o.th.MeterShare)
	until := a.s[len(a.s)-1].At
	for _, next := range a.load.Spans {
		if next.From > sp.To {
			until = next.From
			break
		}
	}
	if until-sp.To > 60 {
		after := series.Within(a.s, until-10, until)
		other := (st.Die - series.Mean(after, series.DieOf)) / (st.Power - series.Mean(after, series.PowerOf))
		if series.Known(other) {
			r, u = (r+other)/2, math.Hypot(u, (other-r)/2)
			if math.Abs(other-r) > 0.05*r {
				a.warn("the die cooled to another temperature than it rested at before: fans or the room changed, so K/W is uncertain")
			}
		}
	}
	return r, u, t - r*p, r > 0
}

// limitC is the temperature not to be exceeded, and where it comes from.
func (a *answer) limitC(r *Result) float64 {
	limit := a.o.options.LimitC
	r.Headroom.LimitSource = "given"
	if !(limit > 0) {
		limit = a.stated.Thermal
		r.Headroom.LimitSource = "reported"
		if !series.Known(limit) {
			limit = 95
			r.Headroom.LimitSource = "assumed"
			a.warn("no temperature limit was given and none is reported: 95 degC is assumed")
		}
	}
	r.Headroom.LimitC = Number(limit)
	return limit
}

// headroomOf works out the power at the limit.
func (a *answer) headroomOf(r *Result, f *path.Fit, st steady.State, level int, sp load.Span) {
	limit := a.limitC(r)
	h := &r.Headroom
	tested := st.Power
	for i := range a.steps.Levels {
		if l := &a.steps.Levels[i]; l.To-l.From >= 1 && l.Power > tested {
			tested = l.Power
		}
	}
	h.TestedToW = Number(tested)
	ref := float64(r.ThermalPath.ReferenceC)
	q := headroom.Plateau{Power: st.Power, Rise: st.Forecast - ref, RiseLow: st.Low - ref, RiseHigh: st.High - ref, Reference: ref, Tested: tested}
	room := headroom.At(limit, q, a.o.th.Headroom)
	h.MarginK = Number(limit - st.Forecast)
	h.PowerW, h.PowerLowW, h.PowerHighW = Number(room.Power), Number(room.Low), Number(room.High)
	h.MarginW, h.NextStepW, h.Why = Number(room.Power-st.Power), Number(room.Next), room.Why
	a.drift(level, sp)
}

// drift warns of a reference that moved during the load.
func (a *answer) drift(level int, sp load.Span) {
	part := a.s[sp.First:sp.Last]
	n := max(len(part)/10, 1)
	if d := series.Mean(part[len(part)-n:], series.AmbientOf) - series.Mean(part[:n], series.AmbientOf); math.Abs(d) > 1 {
		a.warn(fmt.Sprintf("ambient drifted %.1f K during the load", math.Abs(d)))
	}
}

func unknownSteady() Steady {
	u := Unknown()
	return Steady{SinceS: u, TemperatureC: u, PowerW: u, ForecastC: u, ForecastLowC: u, ForecastHighC: u, EtaS: u, EtaLowS: u, EtaHighS: u}
}

func unknownPath() ThermalPath {
	u := Unknown()
	return ThermalPath{ReferenceC: u, OffsetK: u, RthKPerW: u, RthLowKPerW: u, RthHighKPerW: u, Stages: []Stage{}, Budget: []BudgetLine{}, NearKPerW: u, NearLowKPerW: u,
		NearHighKPerW: u, FarKPerW: u, FarLowKPerW: u, FarHighKPerW: u}
}

func unknownHeadroom() Headroom {
	u := Unknown()
	return Headroom{LimitC: u, MarginK: u, PowerW: u, PowerLowW: u, PowerHighW: u, MarginW: u, NextStepW: u, TestedToW: u}
}
