package rig

import (
	"math"
	"testing"
	"time"
)

// steadily loads the machine without end, in a room that does not drift.
func steadily(c *Config) {
	c.Plan = Plan{RestS: 12, LoadS: 1e6}
	c.Room.DriftK = 0
}

// first gives the time at which a state first fits, NaN if none does.
func first(sts []State, fits func(State) bool) float64 {
	for _, st := range sts {
		if fits(st) {
			return st.TimeS
		}
	}
	return math.NaN()
}

func held(by HeldBy) func(State) bool { return func(st State) bool { return st.HeldBy == by } }

// The story of the three setups, each against what its parts give by hand.
//
//   - Burst: t* = 16 s ln((64-P0)/(64-28)), P0 the idle power, if heat does not cut in.
//   - End: room + 28 W x (contact + spreader + block) + the rise of the far side, which
//     solves 28 W = dT G(dT, fan).
func TestStory(t *testing.T) {
	const loadStart = 12.0
	cases := []struct {
		setup        string
		end, endOff  float64 // degC
		hot          bool
		heatedBy300S [2]float64 // degC at the end of 300 s of load, least and most
	}{
		// 22 + 28 x 0.55 + 28/(0.1+1.85 (2506/3000)^0.7 = 1.73 W/K) = 22 + 15.4 + 16.1
		{"fan-cooler", 53.5, 0.4, false, [2]float64{53, 54}},
		// 22 + 28 x 1.48 + 24.4, for 24.4 K x (0.65 + 0.50 (24.4/25)^0.25) = 28.0 W
		{"plate-first", 87.8, 0.2, true, [2]float64{82, 84}},
		// 22 + 28 x 0.50 + 24.4
		{"plate-again", 60.4, 0.2, false, [2]float64{55, 57}},
	}
	for _, c := range cases {
		s := start(t, c.setup, steadily)
		sts := states(s, 1500)
		end := sts[len(sts)-1]
		near(t, c.setup+": idle power", sts[100].PowerW, 5, 0.03)
		near(t, c.setup+": load begins", first(sts, held(HeldShort)), loadStart, 0.1/loadStart)
		near(t, c.setup+": plateau", end.AverageW, 28, 1e-4)
		near(t, c.setup+": end", end.NodesC[0], c.end, c.endOff/c.end)
		near(t, c.setup+": end as Truth has it", end.NodesC[0], s.Truth().SteadyC, 0.3/c.end)
		if end.HeldBy != HeldLong {
			t.Errorf("%s: in the end held by %s", c.setup, end.HeldBy)
		}
		if at := sts[3120].NodesC[0]; at < c.heatedBy300S[0] || at > c.heatedBy300S[1] {
			t.Errorf("%s: %.1f degC after 300 s of load, want %v", c.setup, at, c.heatedBy300S)
		}
		hit, long := first(sts, held(HeldHeat)), first(sts, held(HeldLong))
		if hot := !math.IsNaN(hit); hot != c.hot || hot != (s.machine.meters.hits > 0) {
			t.Errorf("%s: thermal limit hit: %v (%v counted), want %v", c.setup, hot, s.machine.meters.hits, c.hot)
		}
		if c.hot {
			if !(hit > loadStart && hit < long && long-loadStart > s.Truth().BurstS) {
				t.Errorf("%s: heat at %g s, plateau at %g s: want heat within the burst and a longer burst for it", c.setup, hit, long)
			}
		} else if math.Abs(long-loadStart-7.9) > 0.2 {
			t.Errorf("%s: burst of %g s, want 7.9", c.setup, long-loadStart)
		}
	}
}

// PowerAt is the inverse of SteadyC, and leaves room over 28 W but for the bad contact.
func TestHeadroomTruth(t *testing.T) {
	for setup, room := range map[string][2]float64{"fan-cooler": {60, 80}, "plate-first": {28, 31}, "plate-again": {45, 60}} {
		s := start(t, setup, nil)
		p := s.PowerAt(90)
		near(t, setup, s.SteadyC(p), 90, 1e-6)
		if p < room[0] || p > room[1] {
			t.Errorf("%s carries %.1f W at 90 degC, want %v", setup, p, room)
		}
	}
}

// Heat is neither made nor lost in the whole machine, through burst, governor and fan,
// with the room drifting.
func TestMachineKeepsHeat(t *testing.T) {
	for _, u := range Default().Setups {
		s := start(t, u.Name, func(c *Config) { c.Room.DriftK = 2; c.Room.DriftS = 50 })
		s.advance(0)
		before, in := s.machine.ladder.heatIn(0), s.machine.meters.trueJ
		out := s.machine.ladder.released
		states(s, 500)
		l := s.machine.ladder
		stored, released := l.heatIn(0)-before, l.released-out
		near(t, u.Name+": heat stored and given off, J", stored+released, s.machine.meters.trueJ-in, 1e-9)
	}
}

// Each load that meets the thermal limit is one episode, however often the governor lets
// go and takes hold within it.
func TestThermalHitsCount(t *testing.T) {
	s := start(t, "plate-first", func(c *Config) { c.Plan = Plan{RestS: 2, LoadS: 20, CoolS: 60} })
	for load, until := range []int{80, 160, 240} {
		states(s, until)
		if got := s.machine.meters.hits; got != float64(load+1) {
			t.Fatalf("%v episodes after %d loads", got, load+1)
		}
	}
}

// Halving and quartering the step moves no temperature by 0.1 K and no energy by 0.1 %:
// the result does not hang on the step.
func TestStepOfPhysicsChangesNothing(t *testing.T) {
	for _, u := range Default().Setups {
		coarse := states(start(t, u.Name, nil), 60)
		for _, step := range []time.Duration{500 * time.Microsecond, 250 * time.Microsecond} {
			s := start(t, u.Name, func(c *Config) { c.Step = step })
			fine := states(s, 60)
			for i := range fine {
				// Where the load or the burst begins or ends, 1 ms more or less of 64 W is
				// up to 0.2 K in a die of 0.3 J/K.
				if d := math.Abs(fine[i].NodesC[0] - coarse[i].NodesC[0]); d > 0.1 {
					t.Errorf("%s, step %v, %.1f s: %.3f K apart", u.Name, step, fine[i].TimeS, d)
					break
				}
			}
		}
	}
}

// A load is never perfectly constant, and the clock gives way as the die warms.
func TestLoadWanders(t *testing.T) {
	sts := states(start(t, "plate-again", steadily), 300)
	low, high := math.Inf(1), 0.0
	for _, st := range sts[600:] {
		low, high = min(low, st.ClockMHz), max(high, st.ClockMHz)
	}
	if high-low < 20 || high-low > 300 {
		t.Errorf("clock between %.0f and %.0f MHz at the plateau", low, high)
	}
	restless := 0.0
	for i := 600; i < 2900; i++ {
		restless += math.Abs(sts[i+10].ClockMHz-sts[i].ClockMHz) / 2300
	}
	if restless < 5 {
		t.Errorf("the clock changes by %.2f MHz over a second: the load must wander", restless)
	}
	early, late := 0.0, 0.0
	for i := range 600 {
		early += sts[300+i].ClockMHz / 600
		late += sts[2300+i].ClockMHz / 600
	}
	if late >= early {
		t.Errorf("mean clock %.1f MHz, later and hotter %.1f MHz: leakage must cost clock", early, late)
	}
}

func TestSeedFixesEverything(t *testing.T) {
	run := func(seed uint64) []State {
		return states(start(t, "fan-cooler", func(c *Config) { c.Seed = seed }), 30)
	}
	a, b, other := run(7), run(7), run(8)
	differ := false
	for i := range a {
		if a[i] != b[i] {
			t.Fatalf("same seed, row %d: %+v and %+v", i, a[i], b[i])
		}
		differ = differ || a[i] != other[i]
	}
	if !differ {
		t.Error("another seed changes nothing")
	}
}

// The price of a millisecond of machine against that of its ladder alone.
func BenchmarkStep(b *testing.B) {
	b.Run("machine", func(b *testing.B) {
		s := start(b, "plate-again", steadily)
		s.advance(20 * time.Second)
		for b.Loop() {
			s.machine.step()
		}
	})
	b.Run("ladder", func(b *testing.B) {
		s := start(b, "plate-again", steadily)
		s.advance(20 * time.Second)
		for b.Loop() {
			s.machine.ladder.step(0.001, 28, 22)
		}
	})
}
