package proof

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"soakline/analysis"
	"soakline/analysis/stats"
	"soakline/collector/telemetry"
)

// Report is what many machines say of the analysis.
type Report struct {
	Machines                          int
	Step, PL1, PL2, Tau, Alone, Prior Tally
	KW, KWOther, Inside, Beyond       Tally
	Limiter, Found                    Confusion
	worst                             []string
	rights                            []float64
	alone, prior, kw, inside          causes
	left                              map[string]int // runs whose forecast is not asked for, by reason
	plain, plainAll                   int            // runs whose offsets alone cost less than 3 % of the rise
}

// NewReport sets the targets.
func NewReport() *Report {
	return &Report{left: map[string]int{},
		Step:    Tally{Name: "step time", Unit: "s", Within: 0.3, Share: 0.95},
		PL1:     Tally{Name: "PL1", Unit: "%", Within: 1, Share: 0.95},
		PL2:     Tally{Name: "PL2 where it binds", Unit: "%", Within: 1, Share: 0.95},
		Tau:     Tally{Name: "time constant", Unit: "%", Within: 10, Share: 0.9, Covers: true},
		Alone:   Tally{Name: "forecast at 1/3, alone", Unit: "K", Within: 2, Share: 0.9, Covers: true},
		Prior:   Tally{Name: "forecast at 1/3, earlier session", Unit: "K", Within: 1, Share: 0.9, Covers: true},
		KW:      Tally{Name: "K/W", Unit: "%", Within: 3, Share: 0.9, Covers: true},
		KWOther: Tally{Name: "K/W with an unmeasured second source", Unit: "%", Within: 3},
		Inside:  Tally{Name: "headroom within tested", Unit: "%", Within: 5, Share: 0.9, Least: 0.85},
		Beyond:  Tally{Name: "headroom beyond tested", Unit: "%", Within: 1e9, Least: 0.85},
	}
}

// Machine draws one machine from a seed, records two runs and checks all answers.
func (rp *Report) Machine(seed uint64) {
	r := rand.New(rand.NewPCG(seed, 0x50a4))
	m := Draw(r)
	earlier, _ := Run(r, &m, DrawPlan(r, uniform(r, 500, 900)))
	tr, truth := Run(r, &m, DrawPlan(r, uniform(r, 300, 900)))
	rp.Machines++
	opt := analysis.Options{LimitC: 90}
	full := analysis.Analyze(tr, opt)
	rp.checkStep(full, truth, seed)
	rp.checkLimiter(full, tr, truth, seed)
	rp.checkPath(full, truth)
	until := truth.Plan.LoadFrom + truth.SettleS/3
	if why := notForecast(truth, until); why != "" {
		rp.left[why]++
		return
	}
	opt.UntilS = until
	st := analysis.Analyze(tr, opt).Steady
	rp.Alone.Add(st.ForecastC, st.ForecastLowC, st.ForecastHighC, truth.FinalC, 1)
	rp.alone.add(truth, st.ForecastC, st.ForecastLowC, st.ForecastHighC, truth.FinalC, rp.Alone.Within)
	opt.Earlier = []analysis.Result{analysis.Analyze(earlier, analysis.Options{LimitC: 90})}
	st = analysis.Analyze(tr, opt).Steady
	rp.Prior.Add(st.ForecastC, st.ForecastLowC, st.ForecastHighC, truth.FinalC, 1)
	rp.prior.add(truth, st.ForecastC, st.ForecastLowC, st.ForecastHighC, truth.FinalC, rp.Prior.Within)
}

// notForecast says why a run has no forecast at a third of its settling time.
func notForecast(t Truth, until float64) string {
	switch {
	case t.SettleS < 60:
		return "settles within a minute"
	case until > t.Plan.LoadTo:
		return "the load ends before"
	case t.SettleS > 2000:
		return "swings by more than 1 K for ever"
	case t.StepS > until:
		return "the first burst still runs"
	}
	return ""
}

func (rp *Report) checkStep(res analysis.Result, truth Truth, seed uint64) {
	ps := res.PowerStep
	said, is := "no step", "no step"
	if ps.Found {
		said = "step"
	}
	if !math.IsNaN(truth.StepS) {
		is = "step"
	}
	rp.Found.Add(is, said)
	if is == "no step" || !ps.Found {
		return
	}
	none := analysis.Unknown()
	rp.Step.Add(ps.TimeS, none, none, truth.StepS, 1)
	if d := float64(ps.TimeS) - truth.StepS; math.Abs(d) > 0.3 {
		rp.note("seed %d: step at %.2f, true %.2f", seed, float64(ps.TimeS), truth.StepS)
	}
	rp.PL1.Add(ps.LongW, ps.LongLowW, ps.LongHighW, truth.PL1, 100/truth.PL1)
	if truth.ShortBinds {
		rp.PL2.Add(ps.ShortW, ps.ShortLowW, ps.ShortHighW, truth.PL2, 100/truth.PL2)
	}
	rp.Tau.Add(ps.TimeConstantS, ps.TimeConstantLowS, ps.TimeConstantHighS, truth.TauS, 100/truth.TauS)
}

func (rp *Report) checkLimiter(res analysis.Result, tr *telemetry.Trace, truth Truth, seed uint64) {
	right, n, j := 0, 0, 0
	for i, t := range tr.Time {
		if truth.Kind[i] == "" {
			continue
		}
		for j+1 < len(res.Limiter) && float64(res.Limiter[j].EndS) < t {
			j++
		}
		said := "none"
		if j < len(res.Limiter) {
			said = string(res.Limiter[j].Kind)
		}
		rp.Limiter.Add(string(truth.Kind[i]), said)
		n++
		if said == string(truth.Kind[i]) {
			right++
		}
	}
	share := float64(right) / float64(max(n, 1))
	rp.rights = append(rp.rights, share)
	if share < 0.9 {
		rp.note("seed %d: limiter right in %.0f %%", seed, 100*share)
	}
}

func (rp *Report) checkPath(res analysis.Result, truth Truth) {
	m := truth.Machine
	if m.HasRef {
		p, t := res.ThermalPath, &rp.KW
		if m.OtherW > 0 {
			t = &rp.KWOther
		}
		t.Add(p.RthKPerW, p.RthLowKPerW, p.RthHighKPerW, truth.RthKW, 100/truth.RthKW)
		if t == &rp.KW {
			within := rp.KW.Within / 100
			rp.kw.add(truth, p.RthKPerW, p.RthLowKPerW, p.RthHighKPerW, truth.RthKW, within*truth.RthKW)
			rp.plainAll++
			if math.Abs(m.DieOffset-m.RefOffset) < within*truth.RthKW*truth.FinalW {
				rp.plain++
			}
		}
	}
	h := res.Headroom
	if !h.LimitC.Known() {
		return
	}
	want := m.PowerAt(float64(h.LimitC)-m.DieOffset, truth.Plan.Room) * m.Meter
	t := &rp.Beyond
	if want <= float64(h.TestedToW) {
		t = &rp.Inside
	}
	t.Add(h.PowerW, h.PowerLowW, h.PowerHighW, want, 100/want)
	if t == &rp.Inside {
		rp.inside.add(truth, h.PowerW, h.PowerLowW, h.PowerHighW, want, rp.Inside.Within/100*want)
	}
}

func (rp *Report) note(format string, a ...any) {
	if len(rp.worst) < 40 {
		rp.worst = append(rp.worst, fmt.Sprintf(format, a...))
	}
}

func (rp *Report) tallies() []*Tally {
	return []*Tally{&rp.Step, &rp.PL1, &rp.PL2, &rp.Tau, &rp.Alone, &rp.Prior, &rp.KW, &rp.KWOther, &rp.Inside, &rp.Beyond}
}

// Misses are the targets that are missed by more than chance explains.
func (rp *Report) Misses() []string {
	var out []string
	for _, t := range rp.tallies() {
		if m := t.Miss(); m != "" {
			out = append(out, m)
		}
	}
	if se := stats.SD(rp.rights) / math.Sqrt(float64(len(rp.rights))); stats.Mean(rp.rights)+3*se < 0.97 && rp.Machines >= 30 {
		out = append(out, fmt.Sprintf("limiter: %.1f %% of samples right", 100*stats.Mean(rp.rights)))
	}
	if rp.Found.Right() < 0.7 {
		out = append(out, "step found or not: right too seldom")
	}
	return out
}

// String is the tables, in Markdown.
func (rp *Report) String() string {
	b := &strings.Builder{}
	fmt.Fprintf(b, "%d machines\n\n%s\n", rp.Machines, Head)
	for _, t := range rp.tallies() {
		fmt.Fprintln(b, t.Row())
	}
	fmt.Fprintf(b, "\nforecast not asked for: %v\nK/W by the settled reading alone, the offsets of the sensors left in it: %d of %d within %g %%\n\n%s", rp.left, rp.plain, rp.plainAll, rp.KW.Within,
		table([]string{rp.Alone.Name, rp.Prior.Name, rp.KW.Name, rp.Inside.Name}, []*causes{&rp.alone, &rp.prior, &rp.kw, &rp.inside}))
	fmt.Fprintf(b, "\nlimiter: %.1f %% of samples right (target 97 %%)\n\n%s", 100*rp.Limiter.Right(), &rp.Limiter)
	fmt.Fprintf(b, "\nstep found: %.1f %% right\n\n%s", 100*rp.Found.Right(), &rp.Found)
	for _, w := range rp.worst {
		fmt.Fprintln(b, w)
	}
	return b.String()
}
