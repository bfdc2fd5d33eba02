package compare

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"soakline/analysis"
	"soakline/analysis/stats"
	"soakline/analysis/thermal"
)

// Judgement of the path. A part has changed where its ratio differs from 1 by more than
// changed and its interval leaves 1 out; it is the same where it differs by less and a
// change of the size of same is ruled out with the certainty sure; else it cannot be said.
const (
	changed              = 1.13 // between no change and the smallest that must not be missed
	same                 = 1.25 // that one
	sure                 = 0.85
	level                = 0.90      // of the intervals
	widenNear            = 1.8       // intervals from curvature are too narrow, ladders being wrong
	widenFar             = 1.2       // in shape: factors from the random machines of package proof
	leastRest, leastLoad = 3.0, 30.0 // s
)

// path compares the runs in pairs, each pair in one fit, and takes the mean.
func path(a, b []Run) (ThermalPath, []string) {
	none := analysis.Unknown()
	out := ThermalPath{Verdict: Undetermined, NearRatio: none, NearLow: none, NearHigh: none, FarRatio: none, FarLow: none,
		FarHigh: none, SeparationS: none, NearA: none, FarA: none, NearB: none, FarB: none}
	var cs []thermal.Change
	for i := range max(len(a), len(b)) {
		c, err := changeOf(a[i%len(a)], b[i%len(b)])
		if why := gate(c, err); why != "" {
			out.Why = why
			return out, nil
		}
		cs = append(cs, c)
	}
	near := pool(cs, func(c thermal.Change) (float64, float64) { return c.LnNear, widenNear * c.NearSE })
	far := pool(cs, func(c thermal.Change) (float64, float64) { return c.LnFar, widenFar * c.FarSE })
	out.NearRatio, out.NearLow, out.NearHigh = near.ratio()
	out.FarRatio, out.FarLow, out.FarHigh = far.ratio()
	c := cs[0]
	out.NearA, out.FarA = analysis.Number(c.A.Near()), analysis.Number(c.A.Far())
	out.NearB, out.FarB = analysis.Number(c.B.Near()), analysis.Number(c.B.Far())
	var warnings []string
	for _, c := range cs {
		if !c.MeasuredA || !c.MeasuredB {
			warnings = []string{"no reference temperature is measured in one of the runs: the room counts as unknown and the far part is known less well"}
		}
	}
	out.Verdict, out.Why = judge(near, far)
	if out.Verdict != None && out.Verdict != Undetermined {
		out.SeparationS = analysis.Number(c.SeparationS)
	}
	return out, warnings
}

func changeOf(a, b Run) (thermal.Change, error) {
	sa, err := seriesOf(a.Trace)
	if err != nil {
		return thermal.Change{}, fmt.Errorf("run A: %w", err)
	}
	sb, err := seriesOf(b.Trace)
	if err != nil {
		return thermal.Change{}, fmt.Errorf("run B: %w", err)
	}
	return thermal.Compare(sa, sb)
}

// gate names what keeps a pair from being compared at all.
func gate(c thermal.Change, err error) string {
	var why []string
	for _, s := range []struct {
		name       string
		rest, load float64
	}{{"A", c.RestA, c.LoadA}, {"B", c.RestB, c.LoadB}} {
		switch seen := err == nil || errors.Is(err, thermal.ErrFit); {
		case !seen:
		case s.load < leastLoad:
			why = append(why, fmt.Sprintf("%s carries load for %.0f s only; %.0f s are the least, three times the slowest time constant is right", s.name, s.load, leastLoad))
		case s.rest < leastRest:
			why = append(why, fmt.Sprintf("%s has no rest before the load: what the path held at the start is not known; record 20 s of rest first", s.name))
		}
	}
	if len(why) == 0 && err != nil {
		return err.Error()
	}
	return strings.Join(why, "; ")
}

// part is the logarithm of a ratio.
type part struct{ ln, se float64 }

// pool is the mean of the pairs; its error is the larger of what the fits say and what
// the pairs show by their scatter.
func pool(cs []thermal.Change, of func(thermal.Change) (float64, float64)) part {
	var x []float64
	v := 0.0
	for _, c := range cs {
		ln, se := of(c)
		x = append(x, ln)
		v += se * se
	}
	n := float64(len(x))
	p := part{stats.Mean(x), math.Sqrt(v) / n}
	if len(x) > 1 {
		p.se = math.Max(p.se, stats.SD(x)/math.Sqrt(n))
	}
	return p
}

func (p part) half() float64 { return stats.NormalQuantile(0.5+level/2) * p.se }

func (p part) ratio() (ratio, low, high analysis.Number) {
	e := func(x float64) analysis.Number { return analysis.Number(math.Exp(x)) }
	return e(p.ln), e(p.ln - p.half()), e(p.ln + p.half())
}

// state is whether a part has changed; ok is false where that cannot be said.
func (p part) state() (hasChanged, ok bool) {
	size := math.Abs(p.ln)
	switch {
	case math.IsNaN(size) || math.IsNaN(p.se):
		return false, false
	case size >= math.Log(changed):
		return true, size > p.half()
	default:
		return false, size+stats.NormalQuantile(sure)*p.se < math.Log(same)
	}
}

func (p part) words(name string) string {
	ratio, low, high := p.ratio()
	return fmt.Sprintf("%s carries %.2f times the resistance (%.2f to %.2f)", name, float64(ratio), float64(low), float64(high))
}

// judge turns the two parts into a verdict with its reason.
func judge(near, far part) (Verdict, string) {
	n, nok := near.state()
	f, fok := far.state()
	nw, fw := near.words("the near part, die to block,"), far.words("the far part, block to reference,")
	switch {
	case !nok && !fok:
		return Undetermined, "neither part is known well enough: " + nw + ", " + fw
	case !nok:
		return Undetermined, "the near part is not known well enough: " + nw
	case !fok:
		return Undetermined, "the far part is not known well enough, load longer and measure the reference: " + fw
	case n && f:
		return Both, nw + ", " + fw
	case n:
		return Near, nw
	case f:
		return Far, fw
	}
	return None, "neither part differs by more than the runs can show: " + nw + ", " + fw
}
