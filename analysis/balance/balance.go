// Package balance owns the coolant balance of one load: the heat that the loop carries
// away against the electrical power, from means over short blocks of flow and both coolant
// temperatures, with its interval, or the condition that keeps it from being drawn.
//
// It knows which columns hold what; properties and uncertainty are package coolant's.
package balance

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"soakline/analysis/coolant"
	"soakline/analysis/series"
)

// Thresholds of the balance.
type Thresholds struct {
	PairK     float64 // K, two coolant sensors out of the box against each other: common practice, no source
	ZeroedK   float64 // K, the same once their difference at rest was taken off
	FlowShare float64 // relative standard uncertainty of a flow meter: common practice, no source
	RestShare float64 // of the heat that the loop carries at rest, how well it is known: by the power of rest
	LoopJK    float64 // J/K of liquid and metal that a loop may hold: common practice, about one litre
	Blocks    int     // the fewest blocks
	Mixture   float64 // relative uncertainty of density times heat capacity where glycol is in it
	MeterW    float64 // relative standard uncertainty of the power meter: 2 to 5 % is usual (common practice, no source)
}

// Defaults are the thresholds in use.
func Defaults() Thresholds {
	return Thresholds{PairK: 0.15, ZeroedK: 0.03, FlowShare: 0.02, RestShare: 0.3, LoopJK: 4200, Blocks: 8, Mixture: 0.02, MeterW: 0.02}
}

// Load is one load: its blocks and those of the rest before it, the columns of flow
// (L/min) and of the coolant before and after the cold plate (degC), the resolution of
// the latter two, and mean powers, W.
type Load struct {
	At, Rest      []series.TrackBlock
	Flow, In, Out int
	Step          float64
	Power, RestW  float64
	Liquid        coolant.Coolant
}

// Balance is the answer. NaN is unknown; intervals are 90 %.
type Balance struct {
	FlowLMin, InC, OutC    float64
	HeatW, LowW, HighW     float64
	DiffW, DiffLow, DiffHi float64 // electrical power less heat
	StandsOut              bool    // the difference is more than twice its uncertainty
	ZeroedK                float64 // K, the sensors' own difference that was taken off, NaN where none was
	Possible               bool
	Why                    string
}

const normal90 = 1.6449

// Judge draws the balance over the last third of the load.
func Judge(l Load, th Thresholds) Balance {
	n := math.NaN()
	out := Balance{FlowLMin: n, InC: n, OutC: n, HeatW: n, LowW: n, HighW: n, DiffW: n, DiffLow: n, DiffHi: n, ZeroedK: n}
	at := l.At[len(l.At)-len(l.At)/3:]
	if len(at) < th.Blocks {
		out.Why = "the load is too short for a balance"
		return out
	}
	flow, in, exit := mean(at, l.Flow), mean(at, l.In), mean(at, l.Out)
	out.FlowLMin, out.InC, out.OutC = flow, in, exit
	r := coolant.Reading{FlowLMin: flow, FlowU: th.FlowShare * flow, InC: in, OutC: exit, PairU: math.Hypot(th.PairK, l.Step/math.Sqrt(6))}
	if l.Liquid.Fraction > 0 {
		r.MixtureU = th.Mixture
	}
	l.zero(&r, &out, th)
	b := l.Liquid.Carried(r)
	slope := trend(at, l.In, l.Out)
	b = b.Power(coolant.Storage{CapacityJK: th.LoopJK, SlopeKS: slope, LoopC: (in + exit) / 2, RoomC: (in + exit) / 2})
	out.HeatW, out.LowW, out.HighW = b.HeatW, b.HeatW-normal90*b.U, b.HeatW+normal90*b.U
	out.Possible, out.Why = b.Possible, b.Why
	d, u, far := b.Difference(l.Power, th.MeterW*l.Power)
	out.DiffW, out.DiffLow, out.DiffHi, out.StandsOut = d, d-normal90*u, d+normal90*u, far
	return out
}

// zero takes off what the two sensors differ by at rest, but for the warming that the
// power of rest explains.
func (l Load) zero(r *coolant.Reading, out *Balance, th Thresholds) {
	if len(l.Rest) < th.Blocks || !series.Known(l.RestW) {
		return
	}
	flow, in, exit := mean(l.Rest, l.Flow), mean(l.Rest, l.In), mean(l.Rest, l.Out)
	perKelvin := l.Liquid.Carried(coolant.Reading{FlowLMin: flow, InC: in, OutC: in + 1}).HeatW
	warming := l.RestW / perKelvin
	u := math.Hypot(math.Hypot(th.ZeroedK, l.Step/math.Sqrt(12)), th.RestShare*warming)
	if !series.Known(exit-in-warming) || u >= r.PairU {
		return
	}
	r.OffsetK, r.PairU = exit-in-warming, u
	out.ZeroedK = r.OffsetK
}

func mean(at []series.TrackBlock, column int) float64 {
	sum, n := 0.0, 0.0
	for _, b := range at {
		if v := float64(b.Mean[column]); series.Known(v) {
			sum, n = sum+v, n+1
		}
	}
	return sum / n
}

// trend is the slope of the mean of two columns, K/s, by the difference of its halves.
func trend(at []series.TrackBlock, a, b int) float64 {
	half := len(at) / 2
	level := func(x []series.TrackBlock) float64 { return (mean(x, a) + mean(x, b)) / 2 }
	return (level(at[half:]) - level(at[:half])) / ((at[len(at)-1].To - at[0].From) / 2)
}

// Parse reads the setup's word for the coolant: "water", "30 % propylene glycol",
// "ethylene glycol 0.4". The fraction is by mass. Empty is water.
func Parse(text string) (coolant.Coolant, error) {
	low := strings.ToLower(strings.TrimSpace(text))
	c := coolant.Coolant{Liquid: coolant.Water}
	switch {
	case strings.Contains(low, "propylene"):
		c.Liquid = coolant.PropyleneGlycol
	case strings.Contains(low, "ethylene"):
		c.Liquid = coolant.EthyleneGlycol
	case low == "" || strings.Contains(low, "water"):
		return c, nil
	default:
		return c, fmt.Errorf("coolant %q is not known: write water, or ethylene or propylene glycol with its fraction by mass, as in \"30 %% propylene glycol\"", text)
	}
	for _, f := range strings.FieldsFunc(low, func(r rune) bool { return !strings.ContainsRune("0123456789.", r) }) {
		if v, err := strconv.ParseFloat(f, 64); err == nil && v > 0 && v < 100 {
			if v > 1 {
				v /= 100
			}
			c.Fraction = v
			return c, nil
		}
	}
	return c, fmt.Errorf("coolant %q lacks the fraction of glycol by mass, as in \"30 %% propylene glycol\"", text)
}

// Unknown says which of the three measurements is missing.
func Unknown(flow, in, exit bool) string {
	missing := ""
	for _, m := range []struct {
		have bool
		name string
	}{{flow, "flow"}, {in, "coolant before the cold plate"}, {exit, "coolant after it"}} {
		if !m.have {
			if missing != "" {
				missing += ", "
			}
			missing += m.name
		}
	}
	return fmt.Sprintf("not measured: %s", missing)
}
