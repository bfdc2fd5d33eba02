package limiter

import (
	"math"
	"math/rand/v2"
	"testing"

	"soakline/analysis/load"
	"soakline/analysis/series"
	"soakline/analysis/step"
)

// creeping is a load at 4400 MHz whose power grows by 0.15 % a kelvin of a die that warms
// from 45 to 75 degC with 80 s, until it meets limit watts: from then on power stands and
// the clock gives way by 1/2.5 of what leakage takes (P goes with f^2.5). Noise 1 % and
// 0.3 %.
func creeping(limit float64) (s []series.Sample, meets float64) {
	rng := rand.New(rand.NewPCG(11, 12))
	for i := range 5000 {
		at := float64(i+1) / 10
		p := series.Sample{At: at, Dt: 0.1, Power: 5, Die: 35, Clock: 800, Load: 1}
		if t := at - 30; t > 0 {
			die := 75 - 30*math.Exp(-t/80)
			grown := 50 * (1 + 0.0015*(die-45))
			p.Power, p.Clock, p.Load, p.Die = grown, 4400, 99, die
			if grown > limit {
				p.Power, p.Clock = limit, 4400*math.Pow(limit/grown, 1/2.5)
				if meets == 0 {
					meets = at
				}
			}
		}
		p.Power *= 1 + 0.01*rng.NormFloat64()
		p.Clock *= 1 + 0.003*rng.NormFloat64()
		p.Die = math.Round(p.Die)
		p.DieMax = p.Die
		s = append(s, p)
	}
	return s, meets
}

// TestQuietLimit: a limit that power creeps up to is found at its power, and one that it
// never meets is not.
func TestQuietLimit(t *testing.T) {
	none := math.NaN()
	infer := func(s []series.Sample) (Limits, load.Found) {
		ld := load.Find(s, load.Defaults())
		f := step.Find(s, ld.Spans, none, step.Defaults())
		return Infer(s, ld.Spans, f, Stated{none, none, none, none}, step.Defaults(), Defaults()), ld
	}
	s, meets := creeping(51.2)
	l, ld := infer(s)
	if math.Abs(l.Long-51.2) > 0.15 {
		t.Fatalf("limit %.2f W, want 51.2 (met at %.0f s)", l.Long, meets)
	}
	spans := Decide(s, ld, l, nil, Defaults())
	if k := kindAt(spans, 450); k != PowerLong {
		t.Errorf("at 450 s %v", k)
	}
	if k := kindAt(spans, 34); k != Clock {
		t.Errorf("at 34 s %v", k)
	}
	s, _ = creeping(80)
	for i := range s { // the clock steps down by itself, and power creeps on
		if s[i].At > 150 && s[i].Power > 20 {
			s[i].Clock *= 0.99
		}
	}
	if l, _ := infer(s); series.Known(l.Long) {
		t.Errorf("a limit of %.2f W while power creeps on", l.Long)
	}
	s, _ = creeping(80)
	if l, _ := infer(s); series.Known(l.Long) {
		t.Errorf("a limit of %.2f W at a standing clock", l.Long)
	}
}

// TestStories: with leakage the two stories part, without it neither is better.
func TestStories(t *testing.T) {
	th := Defaults()
	for _, c := range []struct {
		p, f float64
		want int // 1 ceiling, -1 limit, 0 neither
	}{{0.03, 0, 1}, {0, -0.012, -1}, {0, 0, 0}} {
		ceiling, limit := stories([]warming{{t: 20, p: c.p, up: 0.003, f: c.f, uf: 0.0012}}, th)
		got := 0
		if d := limit - ceiling; math.Abs(d) > th.CeilingPrior {
			got = int(math.Copysign(1, d))
		}
		if got != c.want {
			t.Errorf("power %+.3f, clock %+.3f: ceiling %.1f, limit %.1f", c.p, c.f, ceiling, limit)
		}
	}
}
