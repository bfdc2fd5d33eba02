package limiter

import (
	"math"
	"testing"

	"soakline/analysis/load"
	"soakline/analysis/series"
	"soakline/analysis/step"
)

// phase is a stretch of constant readings.
type phase struct {
	seconds           float64
	power, clock, die float64
	reasons           uint64
}

func trace(ph ...phase) []series.Sample {
	var out []series.Sample
	at := 0.0
	for _, p := range ph {
		for range int(10 * p.seconds) {
			at += 0.1
			wobble := 0.004 * math.Sin(37*at)
			out = append(out, series.Sample{At: at, Dt: 0.1, Power: p.power * (1 + wobble), Clock: p.clock, Die: p.die, DieMax: p.die,
				Load: math.NaN(), Ambient: math.NaN(), Reasons: p.reasons, Told: true})
		}
	}
	return out
}

func decide(s []series.Sample, l Limits, word func(uint64) (Kind, bool)) []Span {
	return Decide(s, load.Find(s, load.Defaults()), l, word, Defaults())
}

func kindAt(sp []Span, t float64) Kind {
	for _, x := range sp {
		if t >= x.From && t < x.To {
			return x.Kind
		}
	}
	return kinds
}

// TestKinds: each bound is named where it is met, and the spans have no holes.
func TestKinds(t *testing.T) {
	s := trace(phase{10, 5, 800, 35, 0}, phase{8, 64, 4300, 60, 0}, phase{30, 28, 3100, 55, 0},
		phase{20, 22, 2700, 100, 0}, phase{20, 25, 4500, 50, 0}, phase{20, 19, 2500, 60, 0}, phase{10, 5, 800, 40, 0})
	yes := true
	l := Limits{Long: 28, ULong: 0.1, Short: 64, UShort: 0.2, ShortBinds: &yes, Thermal: 100, Ceiling: 4500}
	spans := decide(s, l, nil)
	for at, want := range map[float64]Kind{5: Idle, 14: PowerShort, 30: PowerLong, 58: Thermal, 78: Clock, 98: Other, 115: Idle} {
		if got := kindAt(spans, at); got != want {
			t.Errorf("at %g s: %v, want %v", at, got, want)
		}
	}
	at := s[0].Start()
	for _, x := range spans {
		if math.Abs(x.From-at) > 1e-9 || x.To <= x.From {
			t.Errorf("span %g to %g follows %g", x.From, x.To, at)
		}
		at = x.To
		if x.Confidence < 0.7 && x.Second == x.Kind {
			t.Errorf("span at %g has itself as the second", x.From)
		}
	}
}

// TestReasons outrank inference, and rest outranks a stale reason.
func TestReasons(t *testing.T) {
	s := trace(phase{10, 5, 800, 35, 4}, phase{30, 28, 3100, 55, 32}, phase{10, 5, 800, 40, 0})
	word := func(mask uint64) (Kind, bool) {
		switch {
		case mask&32 != 0:
			return Current, true
		case mask&4 != 0:
			return PowerLong, true
		}
		return Idle, false
	}
	l := Limits{Long: 28, ULong: 0.1, Short: math.NaN(), Thermal: math.NaN(), Ceiling: math.NaN()}
	spans := decide(s, l, word)
	if kindAt(spans, 25) != Current || kindAt(spans, 5) != Idle || kindAt(spans, 45) != Idle {
		t.Errorf("spans %+v", spans)
	}
	if kindAt(decide(s, l, nil), 25) != PowerLong {
		t.Error("without the reasons it is not the long-term limit")
	}
}

// TestFlicker: readings that hop about a border for less than the shortest span leave
// one span.
func TestFlicker(t *testing.T) {
	ph := []phase{{10, 5, 800, 35, 0}}
	for range 40 {
		ph = append(ph, phase{0.6, 28, 3100, 55, 0}, phase{0.2, 27.2, 3100, 55, 0})
	}
	l := Limits{Long: 28, ULong: 0.1, Short: math.NaN(), Thermal: math.NaN(), Ceiling: 4500}
	if spans := decide(trace(ph...), l, nil); len(spans) != 2 {
		t.Errorf("%d spans, want rest and one more", len(spans))
	}
}

// TestLearnThermal: a governed die teaches its limit, a settled one does not.
func TestLearnThermal(t *testing.T) {
	var governed, settled []series.Sample
	for i := range 900 {
		at := float64(i+1) / 10
		saw := math.Sin(at / 2)
		p := series.Sample{At: at, Dt: 0.1, Power: 5, Die: 40, DieMax: 40, Clock: 800}
		q := p
		if i > 100 {
			p.Power, p.Clock, p.Die = 40+3*saw, 3000+150*saw, 94+math.Round(saw*0.4)
			q.Power, q.Clock, q.Die = 40, 3000, 94
		}
		governed, settled = append(governed, p), append(settled, q)
	}
	spans := []load.Span{{From: 10, To: 90, First: 101, Last: 900}}
	if got := LearnThermal(governed, spans, Defaults()); math.Abs(got-94) > 1 {
		t.Errorf("learned %g degC, want 94", got)
	}
	if got := LearnThermal(settled, spans, Defaults()); !math.IsNaN(got) {
		t.Errorf("learned %g degC from a settled die", got)
	}
}

// TestLearnNothing: a settled die under a power and a clock that both wander, but each by
// itself, is governed by nothing.
func TestLearnNothing(t *testing.T) {
	var s []series.Sample
	for i := range 1900 {
		at := float64(i+1) / 10
		p := series.Sample{At: at, Dt: 0.1, Power: 5, Die: 40, DieMax: 40, Clock: 800}
		if i > 100 {
			p.Power, p.Clock, p.Die = 40*(1+0.02*math.Sin(at/2)), 3000*(1+0.01*math.Cos(at/2.7)), 94
		}
		s = append(s, p)
	}
	if got := LearnThermal(s, []load.Span{{From: 10, To: 190, First: 101, Last: 1900}}, Defaults()); !math.IsNaN(got) {
		t.Errorf("learned %g degC", got)
	}
}

// TestInferBurst: a burst at a standing clock with growing power is the ceiling's; a
// burst at standing power with a sinking clock is the limit's.
func TestInferBurst(t *testing.T) {
	for _, c := range []struct {
		name         string
		power, clock float64 // growth over the burst
		isLimit      bool
	}{{"ceiling", 0.04, 0, false}, {"limit", 0, -0.012, true}} {
		var s []series.Sample
		for i := range 900 {
			at := float64(i+1) / 10
			p := series.Sample{At: at, Dt: 0.1, Power: 5, Die: 35, DieMax: 35, Clock: 800, Load: 1}
			switch {
			case i >= 200 && i < 350:
				x := float64(i-200) / 150
				p.Power, p.Clock, p.Die, p.Load = 50*(1+c.power*x)*(1+0.004*math.Sin(37*at)), 4000*(1+c.clock*x)*(1+0.001*math.Sin(29*at)), 45+20*x, 99
			case i >= 350:
				p.Power, p.Clock, p.Die, p.Load = 28*(1+0.004*math.Sin(37*at)), 3000, 50, 99
			}
			p.DieMax = p.Die
			s = append(s, p)
		}
		ld := load.Find(s, load.Defaults())
		f := step.Find(s, ld.Spans, math.NaN(), step.Defaults())
		n := math.NaN()
		l := Infer(s, ld.Spans, f, Stated{n, n, n, n}, step.Defaults(), Defaults())
		if l.ShortBinds == nil || *l.ShortBinds != c.isLimit {
			t.Errorf("%s: short is a limit %v", c.name, l.ShortBinds)
		}
		if math.Abs(l.Long-28) > 0.2 {
			t.Errorf("%s: long %g W", c.name, l.Long)
		}
	}
}
