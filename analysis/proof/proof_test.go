package proof

import (
	"flag"
	"fmt"
	"math"
	"slices"
	"testing"

	"soakline/analysis"
)

var machines = flag.Int("machines", 12, "how many random machines")
var verbose = flag.Bool("each", false, "print each machine")

type score struct {
	err     []float64
	covered int
	width   []float64
}

func (s *score) add(got, low, high analysis.Number, want float64, relative bool) {
	e := float64(got) - want
	w := float64(high - low)
	if relative {
		e, w = e/want, w/want
	}
	s.err, s.width = append(s.err, e), append(s.width, w)
	if float64(low) <= want && want <= float64(high) {
		s.covered++
	}
}

func (s *score) row(name string) {
	if len(s.err) == 0 {
		return
	}
	a := make([]float64, len(s.err))
	unknown := 0
	for i, e := range s.err {
		a[i] = math.Abs(e)
		if math.IsNaN(e) {
			a[i] = math.Inf(1)
			unknown++
		}
	}
	slices.Sort(a)
	b := slices.Clone(s.err)
	slices.Sort(b)
	w := slices.Clone(s.width)
	slices.Sort(w)
	q := func(p float64) float64 { return a[min(int(p*float64(len(a))), len(a)-1)] }
	fmt.Printf("%-28s n %3d unknown %d  median %+.4f  |err| 50%% %.4f 90%% %.4f 95%% %.4f  covered %.2f width %.4f\n", name, len(a), unknown, b[len(b)/2], q(.5), q(.9), q(.95), float64(s.covered)/float64(len(a)), w[len(w)/2])
}

func TestMachines(t *testing.T) {
	var step, long, short, tau, tauWarm, third, thirdPrior, rth, head, lim, half, within score
	for seed := range *machines {
		m := Draw(uint64(seed + 1000))
		slow := m.R[4] * m.C[4]
		m.Load = 6 * slow
		tr, truth := m.Run()
		r := analysis.Analyze(tr, analysis.Options{LimitC: 90})
		right, k := 0, 0
		for i, at := range tr.Time {
			for k < len(r.Limiter)-1 && float64(r.Limiter[k].EndS) < at-1e-9 {
				k++
			}
			if string(r.Limiter[k].Kind) == truth.Held[i] {
				right++
			}
		}
		share := float64(right) / float64(len(tr.Time))
		lim.add(analysis.Number(share), 0.97, 1, 1, false)
		if share >= 0.97 {
			lim.covered++
		}
		powerLong := false
		for _, h := range truth.Held {
			powerLong = powerLong || h == "power-long"
		}
		p := r.PowerStep
		if len(truth.Hits) > 0 && *verbose && (!p.Found || math.Abs(float64(p.TimeS)-truth.Hits[0]) > 0.3) {
			fmt.Println("STEP", seed, m.Long, m.Short, m.Full, m.Tau, m.Before, m.Dips, truth.Hits, p.TimeS, p.TimesS, p.Why)
		}
		if *verbose && share < 0.97 {
			fmt.Printf("LIM %d %.3f long %.1f short %.1f full %.1f tau %.1f thermal %.0f before %.0f dips %v\n", seed, share, m.Long, m.Short, m.Full, m.Tau, m.Thermal, m.Before, m.Dips)
			for _, l := range r.Limiter {
				fmt.Printf("%.1f-%.1f %s %.2f; ", l.StartS, l.EndS, l.Kind, l.Confidence)
			}
			was := ""
			fmt.Println()
			for i, h := range truth.Held {
				if h != was {
					fmt.Printf("%.1f %s; ", tr.Time[i], h)
					was = h
				}
			}
			fmt.Println()
		}
		if len(truth.Hits) > 0 {
			step.add(p.TimeS, p.TimeS-0.3, p.TimeS+0.3, truth.Hits[0], false)
			long.add(p.LongW, p.LongLowW, p.LongHighW, m.Long, true)
			if slices.Contains(truth.Held, "power-short") {
				short.add(p.ShortW, p.ShortLowW, p.ShortHighW, m.Short, true)
			}
			if m.Before > 0 {
				tauWarm.add(p.TimeConstantS, p.TimeConstantLowS, p.TimeConstantHighS, m.Tau, true)
			} else {
				tau.add(p.TimeConstantS, p.TimeConstantLowS, p.TimeConstantHighS, m.Tau, true)
				if *verbose && math.Abs(float64(p.TimeConstantS)/m.Tau-1) > 0.1 {
					fmt.Println("TAU", seed, m.Tau, p.TimeConstantS, p.TimeConstantLowS, p.TimeConstantHighS, truth.Hits, p.TimeS, p.TimesS, m.Dips)
				}
			}
		}
		if m.Dips || slices.Contains(truth.Held, "thermal") || !powerLong {
			continue
		}
		end := m.Room + m.Total()*m.Long + m.Drift*truth.End/1000
		settle := 0.0
		for i, d := range truth.Die {
			if tr.Time[i] < truth.End && math.Abs(d-truth.Die[int(truth.End*10)-20]) > 1 {
				settle = tr.Time[i] - m.Rest
			}
		}
		rth.add(r.ThermalPath.RthKPerW, r.ThermalPath.RthLowKPerW, r.ThermalPath.RthHighKPerW, m.Total(), true)
		limit := m.Room + m.Total()*m.Long*1.15
		inRange := analysis.Analyze(tr, analysis.Options{LimitC: limit, UntilS: truth.End - 1})
		head.add(inRange.Headroom.PowerW, inRange.Headroom.PowerLowW, inRange.Headroom.PowerHighW, m.Long*1.15, true)
		for i, share := range []float64{1. / 3, 0.6} {
			to := []*score{&third, &half}[i]
			early := analysis.Analyze(tr, analysis.Options{LimitC: 90, UntilS: m.Rest + share*settle})
			want := end + m.Offset
			to.add(early.Steady.ForecastC, early.Steady.ForecastLowC, early.Steady.ForecastHighC, want, false)
			if i == 0 {
				if *verbose {
					fmt.Printf("FC %d slow %.0f settle %.0f want %.2f got %.2f [%.2f %.2f]\n", seed, slow, settle, want, early.Steady.ForecastC, early.Steady.ForecastLowC, early.Steady.ForecastHighC)
				}
				prior := analysis.Analyze(tr, analysis.Options{LimitC: 90, UntilS: m.Rest + share*settle, Earlier: []analysis.Result{earlierOf(uint64(seed + 1000))}})
				thirdPrior.add(prior.Steady.ForecastC, prior.Steady.ForecastLowC, prior.Steady.ForecastHighC, want, false)
			}
		}
		_ = within
	}
	step.row("step time, s")
	long.row("PL1, share")
	short.row("PL2, share")
	tau.row("time constant, share")
	tauWarm.row("  after a warm start")
	lim.row("limiter, share wrong")
	third.row("forecast at 1/3, K")
	thirdPrior.row("  with an earlier trace")
	half.row("forecast at 0.6, K")
	rth.row("K/W, share")
	head.row("headroom +15 %, share")
}

// earlierOf is the same machine on another day: another room and noise.
func earlierOf(seed uint64) analysis.Result {
	m := Draw(seed)
	m.Room += 3
	m.Drift = 0.3
	m.Before, m.Rest = 0, 30
	m.Load = 5 * m.R[4] * m.C[4]
	for range 7 {
		m.rng.Float64()
	}
	tr, _ := m.Run()
	return analysis.Analyze(tr, analysis.Options{})
}
