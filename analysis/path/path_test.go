package path

import (
	"math"
	"testing"

	"soakline/analysis/series"
	"soakline/analysis/thermal"
	"soakline/testdata/checkvalues"
)

// heated computes die temperatures for a course of power by the exact response of
// first-order stages to power that is constant over each tenth of a second.
func heated(r, tau []float64, seconds, room float64, power func(t float64) float64) []series.Sample {
	n := int(10 * seconds)
	out := make([]series.Sample, n)
	x := make([]float64, len(r))
	for j := range x {
		x[j] = power(0)
	}
	nan := math.NaN()
	for i := range out {
		t := float64(i+1) / 10
		p, die := power(t-0.05), room
		for j := range x {
			x[j] += (p - x[j]) * -math.Expm1(-0.1/tau[j])
			die += r[j] * x[j]
		}
		out[i] = series.Sample{At: t, Dt: 0.1, Power: p, Die: die, DieMax: die, Ambient: room, Load: nan, Clock: nan}
	}
	return out
}

// ragged is rest, then a load that changes every 7 s, then rest.
func ragged(t float64) float64 {
	if t < 30 || t > 900 {
		return 5
	}
	return 20 + 15*math.Sin(math.Floor(t/7)*1.7)
}

// TestRecovers: a path of four stages is found again from a load that is no step at all.
func TestRecovers(t *testing.T) {
	r, tau := []float64{0.3, 0.25, 0.3, 0.6}, []float64{0.5, 5, 35, 160}
	f, why := Run(heated(r, tau, 1200, 22, ragged), nil, Defaults())
	if why != "" {
		t.Fatal(why)
	}
	if got := Total(f.R); math.Abs(got-1.45) > 0.015*1.45 {
		t.Errorf("total %.4f K/W, want 1.45", got)
	}
	low, high := f.Interval(func(p *Path) float64 { return Total(p.R) })
	if low > 1.45 || high < 1.45 {
		t.Errorf("interval %.3f to %.3f leaves 1.45 out", low, high)
	}
	if math.Abs(f.Offset) > 0.3 {
		t.Errorf("offset %.2f K, want 0", f.Offset)
	}
}

// TestLadders: the ladders of thermal_ladders.csv (converted there by two independent
// ways) heated by a step: total within 2 %.
func TestLadders(t *testing.T) {
	rows := checkvalues.Read(t, "thermal_ladders.csv")
	for _, name := range []string{"base", "near_worse", "far_worse"} {
		var c thermal.Cauer
		for _, row := range rows {
			if row["ladder"] == name && row["kind"] == "cauer" {
				c.R, c.C = append(c.R, row.Num("r_k_per_w")), append(c.C, row.Num("c_j_per_k_or_tau_s"))
			}
		}
		if len(c.R) == 0 {
			t.Fatalf("no ladder %q", name)
		}
		foster, err := c.Foster()
		if err != nil {
			t.Fatal(err)
		}
		slow := foster.Tau[len(foster.Tau)-1]
		for _, x := range foster.Tau {
			slow = math.Max(slow, x)
		}
		f, why := Run(heated(foster.R, foster.Tau, 30+8*slow, 22, func(t float64) float64 {
			if t < 30 {
				return 3
			}
			return 28
		}), nil, Defaults())
		if why != "" {
			t.Fatalf("%s: %s", name, why)
		}
		if got := Total(f.R); math.Abs(got/c.Total()-1) > 0.02 {
			t.Errorf("%s: total %.4f K/W, want %.4f", name, got, c.Total())
		}
	}
}

// TestSays: what cannot be told is refused with a reason.
func TestSays(t *testing.T) {
	idle := heated([]float64{1}, []float64{10}, 60, 22, func(float64) float64 { return 5 })
	if _, why := Run(idle, nil, Defaults()); why == "" {
		t.Error("a path from rest alone")
	}
	if _, why := Run(nil, nil, Defaults()); why == "" {
		t.Error("a path from nothing")
	}
}

// TestPrior: with an earlier trace of the machine an early forecast is far sharper.
func TestPrior(t *testing.T) {
	r, tau := []float64{0.3, 0.25, 0.3, 0.6}, []float64{0.5, 5, 35, 160}
	step := func(t float64) float64 {
		if t < 30 {
			return 5
		}
		return 28
	}
	earlier, why := Run(heated(r, tau, 900, 25, step), nil, Defaults())
	if why != "" {
		t.Fatal(why)
	}
	early := heated(r, tau, 100, 22, step)
	alone, _ := Run(early, nil, Defaults())
	prior, _ := Run(early, earlier.Prior(), Defaults())
	total := func(p *Path) float64 { return Total(p.R) }
	if a, b := alone.Spread(total), prior.Spread(total); b > a/2 {
		t.Errorf("spread %.3f with the earlier trace, %.3f without", b, a)
	}
	if e := math.Abs(Total(prior.R) - 1.45); e > 0.03 {
		t.Errorf("total %.3f with the earlier trace, want 1.45", Total(prior.R))
	}
}

// TestFan: where a fan that speeds up with the die is recorded, the end at its final
// speed is foretold from a third of the way; the course is integrated here step by step.
func TestFan(t *testing.T) {
	course := func(seconds float64) (s []series.Sample, end float64) {
		x, die, rpm := 0.0, 22.0, 1000.0
		var near [2]float64
		for i := range int(10 * seconds) {
			at, p := float64(i+1)/10, 4.0
			if at > 40 {
				p = 30
			}
			rpm += 0.1 / 8 * (1000 + 60*math.Max(die-45, 0) - rpm)
			c := math.Pow(rpm/1000, 0.2)
			x += 0.1 / 180 * (0.9*p - c*x)
			for j, tau := range []float64{1, 8} {
				near[j] += (0.25*p - near[j]) * -math.Expm1(-0.1/tau)
			}
			die = 22 + near[0] + near[1] + x
			if at > 0 {
				n := math.NaN()
				s = append(s, series.Sample{At: at, Dt: 0.1, Power: p, Die: die, DieMax: die, Ambient: 22, Fan: rpm, Load: n, Clock: n})
			}
		}
		return s, die
	}
	_, end := course(4000)
	early, _ := course(40 + 300)
	f, why := Run(early, nil, Defaults())
	if why != "" {
		t.Fatal(why)
	}
	if got := 22 + f.Offset + f.End(&f.Path, 30, 22); math.Abs(got-end) > 1.5 {
		t.Errorf("settles at %.1f degC, true %.1f", got, end)
	}
}
