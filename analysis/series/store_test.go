package series

import (
	"math"
	"testing"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

func channels(roles ...telemetry.Role) []telemetry.Channel {
	var out []telemetry.Channel
	for _, r := range roles {
		out = append(out, telemetry.Channel{Key: string(r), Name: string(r), Role: r, Quantity: quantity.Power})
	}
	return out
}

func push(s *Store, t float64, v ...float64) int {
	st := make([]telemetry.State, len(v))
	for i := range v {
		st[i] = telemetry.Fresh
		if math.IsNaN(v[i]) {
			st[i] = telemetry.GapIO
		}
	}
	return s.Push(t, v, st)
}

// TestEnergy: a counter that renews every other row gives both rows the mean power of
// the two, and a
// restart gives no number of its own: the last power is held for a moment.
func TestEnergy(t *testing.T) {
	s := NewStore(channels(telemetry.RoleEnergy))
	for i, e := range []float64{100, 100, 110, 110, 130, 0, 0, 4} {
		push(s, float64(i)/10, e)
	}
	want := []float64{math.NaN(), 50, 50, 100, 100, 100, 20, 20}
	for i, p := range s.Samples() {
		if !(math.Abs(p.Power-want[i]) < 1e-9) && !(math.IsNaN(p.Power) && math.IsNaN(want[i])) {
			t.Errorf("sample %d: %g W, want %g", i, p.Power, want[i])
		}
	}
}

// TestEnergySilent: a counter that stands still hands over to the power channel.
func TestEnergySilent(t *testing.T) {
	s := NewStore(channels(telemetry.RoleEnergy, telemetry.RolePower))
	for i := range 100 {
		push(s, float64(i)/10, 5, 42)
	}
	last := s.Samples()[90]
	if last.Power != 42 {
		t.Errorf("power %g W, want that of the power channel, 42 W", last.Power)
	}
}

// TestSpikes: what cannot be true is dropped, what can be is kept.
func TestSpikes(t *testing.T) {
	s := NewStore(channels(telemetry.RoleDie, telemetry.RolePower))
	for i, die := range []float64{0, 0, 31, 31, 127, 31, 32, 300, 32, 50, 60} {
		push(s, float64(i)/10, die, 10)
	}
	n := math.NaN()
	for i, want := range []float64{n, n, 31, 31, n, 31, 32, n, 32, 50, 60} {
		if got := s.Samples()[i].Die; got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("sample %d: %g degC, want %g", i, got, want)
		}
	}
}

// TestRepeatedInstant: a row that repeats an instant or goes back is left out.
func TestRepeatedInstant(t *testing.T) {
	s := NewStore(channels(telemetry.RolePower))
	for _, at := range []float64{0, 1, 1, 0.5, 2} {
		push(s, at, 10)
	}
	if len(s.Samples()) != 3 {
		t.Errorf("%d samples, want 3", len(s.Samples()))
	}
}

// TestDay: after a day at 10 Hz the store is bounded, no time is lost, energy is kept,
// and the neighbourhood of the one edge is still single.
func TestDay(t *testing.T) {
	s := NewStore(channels(telemetry.RolePower))
	const rows = 864000
	joule := 0.0
	for i := range rows {
		p := 10 + math.Sin(float64(i))
		if i > 5000 && i < 9000 {
			p = 50
		}
		if i > 0 {
			joule += p / 10
		}
		push(s, float64(i)/10, p)
	}
	if n := len(s.Samples()); n > rawKept+rawBatch+secondsKept {
		t.Errorf("%d samples kept", n)
	}
	sum, time, single := 0.0, 0.0, 0
	for _, p := range s.Samples() {
		time += p.Dt
		if p.Dt > 0 {
			sum += p.Power * p.Dt
		}
		if p.At > 495 && p.At < 505 && p.Dt < 0.15 {
			single++
		}
	}
	if math.Abs(time-(rows-1)/10.0) > 1e-3 || math.Abs(sum/joule-1) > 1e-9 {
		t.Errorf("time %g s, want %g; energy %g J, want %g", time, (rows-1)/10.0, sum, joule)
	}
	if single < 90 {
		t.Errorf("%d of 100 samples around the edge are still single", single)
	}
}

// TestPushAllocates nothing in steady state, but for the growth of its one slice.
func TestPushAllocates(t *testing.T) {
	s := NewStore(channels(telemetry.RolePower, telemetry.RoleDie))
	v, st := []float64{10, 40}, []telemetry.State{telemetry.Fresh, telemetry.Fresh}
	at := 0.0
	for range 2 * rawKept {
		at += 0.1
		s.Push(at, v, st)
	}
	if n := testing.AllocsPerRun(2000, func() { at += 0.1; s.Push(at, v, st) }); n > 0 {
		t.Errorf("%g allocations a push", n)
	}
}
