package analysis_test

import (
	"fmt"
	"math"
	"testing"

	"soakline/analysis"
	"soakline/analysis/headroom"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
	"soakline/testdata/checkvalues"
)

// powerTrace has a power channel alone.
func powerTrace() *telemetry.Trace {
	return &telemetry.Trace{Channels: []telemetry.Channel{{Key: "p", Name: "power", Quantity: quantity.Power, Role: telemetry.RolePower}}, Values: make([][]float64, 1)}
}

// TestLimiterTraces runs the four traces of limiter_traces.csv (simulated at 1 ms by an
// ideal running-average limiter; the truths stand in the file's header).
func TestLimiterTraces(t *testing.T) {
	for _, c := range []struct {
		name             string
		tau, long, short float64
		hits             []float64
		shortIsLimit     string // "yes", "no", or "" where power alone cannot tell
		warm             bool
	}{
		{"cold_constant", 16, 28, 64, []float64{37.905}, "", false},
		{"ragged", 16, 28, 64, []float64{41.604, 54.352}, "yes", false},
		{"warm_start", 28, 28, 64, []float64{40.561}, "", true},
		{"clock_ceiling", 10, 35, 47, []float64{42.528, 73.552}, "", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr := powerTrace()
			for _, row := range checkvalues.Read(t, "limiter_traces.csv") {
				if row["case"] == c.name {
					tr.Time, tr.Values[0] = append(tr.Time, row.Num("t_s")), append(tr.Values[0], row.Num("p_w"))
				}
			}
			p := analysis.Analyze(tr, analysis.Options{}).PowerStep
			if !p.Found {
				t.Fatalf("no step: %s", p.Why)
			}
			got := append([]analysis.Number{p.TimeS}, p.TimesS...)
			if len(got) != len(c.hits) {
				t.Fatalf("falls at %v, want %v", got, c.hits)
			}
			for i := range got {
				about(t, "fall", got[i], c.hits[i], 0.1)
			}
			about(t, "long-term limit", p.LongW, c.long, 0.01*c.long)
			about(t, "burst", p.ShortW, c.short, 0.01*c.short)
			inside(t, "time constant", p.TimeConstantLowS, p.TimeConstantHighS, c.tau)
			if !c.warm {
				about(t, "time constant", p.TimeConstantS, c.tau, 0.02*c.tau)
			}
			if says := map[bool]string{true: "yes", false: "no"}; (p.ShortIsALimit == nil) != (c.shortIsLimit == "") ||
				p.ShortIsALimit != nil && says[*p.ShortIsALimit] != c.shortIsLimit {
				t.Errorf("short is a limit: %v, want %q", p.ShortIsALimit, c.shortIsLimit)
			}
		})
	}
}

// TestLimiterStep holds the time constant against the closed form of limiter_step.csv,
// t = tau ln((P2-P0)/(P2-P1)), sampled every 0.1 s.
func TestLimiterStep(t *testing.T) {
	for _, row := range checkvalues.Read(t, "limiter_step.csv") {
		p0, p1, p2, tau, burst := row.Num("p0_w"), row.Num("p1_w"), row.Num("p2_w"), row.Num("tau_s"), row.Num("t_burst_s")
		if p0 == 0 || p0 > p1/2 {
			continue // no rest below the limit: a warm start is another test
		}
		t.Run(fmt.Sprintf("%g/%g/%gW", p0, p1, p2), func(t *testing.T) {
			tr := powerTrace()
			for i := range int(10 * (60 + burst)) {
				from, to := float64(i)/10, float64(i+1)/10
				high := math.Max(0, math.Min(to, 20+burst)-math.Max(from, 20)) / 0.1
				after := math.Max(0, math.Min(to, 1e9)-math.Max(from, 20+burst)) / 0.1
				tr.Time = append(tr.Time, to)
				tr.Values[0] = append(tr.Values[0], p2*high+p1*after+p0*(1-high-after))
			}
			p := analysis.Analyze(tr, analysis.Options{}).PowerStep
			if !p.Found {
				t.Fatalf("no step: %s", p.Why)
			}
			about(t, "fall", p.TimeS, 20+burst, 0.02)
			about(t, "time constant", p.TimeConstantS, tau, (0.01+0.1/burst)*tau) // an ideal loop has no delay
			inside(t, "time constant", p.TimeConstantLowS, p.TimeConstantHighS, tau)
		})
	}
}

// TestHeadroomAgainstLeakage: at a temperature limit the measured package power holds
// the leakage already, so that R alone gives it: headroom_leakage.csv (closed form by
// the Lambert W function, Corless et al. 1996).
func TestHeadroomAgainstLeakage(t *testing.T) {
	for _, row := range checkvalues.Read(t, "headroom_leakage.csv") {
		tc, p := row.Num("t_c"), row.Num("p_total_w")
		if math.IsNaN(tc) || math.IsNaN(p) {
			continue // no fixed point: thermal runaway
		}
		rise := tc - row.Num("tref_c")
		room := headroom.At(90, headroom.Plateau{Power: p, Rise: rise, RiseLow: 0.98 * rise, RiseHigh: 1.02 * rise, Reference: row.Num("tref_c")}, headroom.Defaults())
		want := row.Num("pd_max_at_90_w") + row.Num("p0_w")*math.Exp((90-row.Num("t0_c"))/row.Num("tb_k"))
		about(t, "power at 90 degC", analysis.Number(room.Power), want, 1e-6*want)
		inside(t, "power at 90 degC", analysis.Number(room.Low), analysis.Number(room.High), want)
	}
}

// TestHeadroomOfTheTrade: a plateau at 45 W and 50 degC in a room of 22 degC was
// followed, at a limit of 95 W, by about 90 W at about 90 degC (common practice, no
// source), where a straight line says 78 degC and so 109 W at 90 degC.
func TestHeadroomOfTheTrade(t *testing.T) {
	room := headroom.At(90, headroom.Plateau{Power: 45, Rise: 28, RiseLow: 27.5, RiseHigh: 28.5, Reference: 22}, headroom.Defaults())
	inside(t, "power at 90 degC", analysis.Number(room.Low), analysis.Number(room.High), 90)
	if room.Next > 1.25*45 || room.Next > room.Low {
		t.Errorf("next step %.1f W goes beyond the lower end %.1f W or 1.25 x 45 W", room.Next, room.Low)
	}
	near := headroom.At(55, headroom.Plateau{Power: 45, Rise: 28, RiseLow: 27.5, RiseHigh: 28.5, Reference: 22}, headroom.Defaults())
	if a, b := near.High/near.Low, room.High/room.Low; a >= b {
		t.Errorf("the interval does not grow with the distance: factor %.3f at 55 degC, %.3f at 90 degC", a, b)
	}
}
