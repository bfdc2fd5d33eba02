package rig

import (
	"context"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

func start(t testing.TB, setup string, change func(*Config)) *Source {
	t.Helper()
	c := Default()
	c.Selected = setup
	if change != nil {
		change(&c)
	}
	s, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// states runs the machine for seconds and gives its true state each 0.1 s.
func states(s *Source, seconds int) []State {
	out := make([]State, 10*seconds)
	for i := range out {
		s.mu.Lock()
		s.advance(time.Duration(i) * 100 * time.Millisecond)
		s.mu.Unlock()
		out[i], _ = s.State()
	}
	return out
}

func TestIsASource(t *testing.T) {
	for _, u := range Default().Setups {
		sourcetest.Check(t, func() telemetry.Source { return start(t, u.Name, nil) })
	}
}

// Two readers at different paces see the same machine: what they read at the same
// instant is the same, and so is the energy counted.
func TestPaceOfReadingChangesNothing(t *testing.T) {
	slow, _ := start(t, "plate-first", nil).Trace(time.Second, 30*time.Second)
	fast, _ := start(t, "plate-first", nil).Trace(50*time.Millisecond, 30*time.Second)
	for i := range slow.Time {
		for _, c := range []int{chEnergy, chDie, chBoard, chAmbient, chHits, firstCore, firstCore + 3} {
			if a, b := slow.Values[c][i], fast.Values[c][20*i]; a != b {
				t.Fatalf("%d s, %s: %v at 1 Hz, %v at 20 Hz", i, slow.Channels[c].Name, a, b)
			}
		}
		mean := 0.0
		for j := 20*i - 19; i > 0 && j <= 20*i; j++ {
			mean += fast.Values[chPower][j] / 20
		}
		if i > 0 {
			near(t, "power over a second", mean, slow.Values[chPower][i], 1e-9)
		}
	}
}

// Sensors are what they claim: whole degrees, tenths for the room, a second between
// renewals, a power meter that scatters by about 1 % about the truth, a counter that
// agrees with it.
func TestSensors(t *testing.T) {
	tr, truth := start(t, "fan-cooler", steadily).Trace(100*time.Millisecond, 300*time.Second)
	fresh := 0
	for i := range tr.Time {
		for _, c := range []int{chDie, chBoard, firstCore, firstCore + 1, firstCore + 2, firstCore + 3} {
			if v := tr.Values[c][i]; v != math.Round(v) {
				t.Fatalf("%s: %v is no whole degree", tr.Channels[c].Name, v)
			}
		}
		if v := tr.Values[chAmbient][i] * 10; math.Abs(v-math.Round(v)) > 1e-9 {
			t.Fatalf("ambient: %v is no tenth of a degree", v/10)
		}
		if d := math.Abs(tr.Values[chDie][i] - truth[i].NodesC[0]); d > 0.5+5*0.25 {
			t.Fatalf("die reads %v at %.2f degC", tr.Values[chDie][i], truth[i].NodesC[0])
		}
		if tr.StateAt(chBoard, i) == telemetry.Fresh {
			fresh++
		}
	}
	if fresh < 300 || fresh > 302 {
		t.Errorf("the board sensor renewed %d times in 300 s, want once a second", fresh)
	}
	mean, square, n := 0.0, 0.0, 0.0
	for i := 600; i < len(tr.Time); i++ {
		d := tr.Values[chPower][i]/28 - 1
		mean, square, n = mean+d, square+d*d, n+1
	}
	if sd := math.Sqrt(square / n); math.Abs(mean/n) > 0.002 || sd < 0.006 || sd > 0.012 {
		t.Errorf("power meter: mean off by %.2f %%, scatter %.2f %%", 100*mean/n, 100*sd)
	}
	counted := (tr.Values[chEnergy][3000] - tr.Values[chEnergy][600]) / 240
	near(t, "power from the counter", counted, 28, 0.002)
}

// A sealed plate has no fan: its speed is a gap, never 0.
func TestPlateHasNoFan(t *testing.T) {
	inv := start(t, "plate-again", nil).Open(context.Background())
	if r := sourcetest.Read(inv, time.Second)["rig/fan"]; r.State != telemetry.GapDisabled || !math.IsNaN(r.Value) {
		t.Errorf("fan on the plate: %+v", r)
	}
	inv = start(t, "fan-cooler", nil).Open(context.Background())
	if r := sourcetest.Read(inv, time.Second)["rig/fan"]; r.State != telemetry.Fresh || r.Value < 1000 {
		t.Errorf("fan of the fan cooler: %+v", r)
	}
}

// Another setup starts from rest while a reader goes on: counters keep growing, the
// conditions change, time of the reader does not jump.
func TestSelect(t *testing.T) {
	s := start(t, "plate-first", nil)
	read := s.Open(context.Background()).Groups[0].Reader
	out := make([]telemetry.Reading, numChannels)
	read.Read(60*time.Second, out)
	read.Read(80*time.Second, out)
	energy, before := out[chEnergy].Value, s.Open(context.Background()).Conditions
	if out[chPower].Value < 20 {
		t.Fatalf("not loaded: %+v", out[chPower])
	}
	if err := s.Select("plate-again"); err != nil {
		t.Fatal(err)
	}
	read.Read(80100*time.Millisecond, out)
	if p := out[chPower].Value; p < 4 || p > 6 || out[chDie].Value > 35 || out[chFan].State.Usable() {
		t.Errorf("not at rest after Select: %v W, %v degC, fan %+v", p, out[chDie].Value, out[chFan])
	}
	if out[chEnergy].Value <= energy {
		t.Errorf("the energy counter went from %v to %v J", energy, out[chEnergy].Value)
	}
	after := s.Open(context.Background()).Conditions
	if before[2] == after[2] || s.Selected().Name != "plate-again" || s.Truth().Setup != "plate-again" {
		t.Errorf("conditions %v and %v, selected %q", before, after, s.Selected().Name)
	}
	err := s.Select("water")
	if err == nil || !strings.Contains(err.Error(), "fan-cooler, plate-first, plate-again") {
		t.Errorf("unknown setup: %v", err)
	}
}

// Everything at once, for the race detector.
func TestConcurrentUse(t *testing.T) {
	s := start(t, "fan-cooler", nil)
	var all sync.WaitGroup
	for g := range 3 {
		read := s.Open(context.Background()).Groups[0].Reader
		all.Go(func() {
			out := make([]telemetry.Reading, numChannels)
			for i := range 100 {
				read.Read(time.Duration(i)*20*time.Millisecond, out)
				if out[chDie].State == telemetry.NoData {
					t.Errorf("reader %d: no data", g)
				}
			}
		})
		all.Go(func() {
			for range 20 {
				for _, u := range s.Setups() {
					_ = s.Select(u.Name)
				}
				_, _ = s.Truth(), s.PowerAt(90)
				_, _ = s.State()
			}
		})
	}
	all.Wait()
}

// After a pause of a day the machine has stood still for all but a minute of it.
func TestLongPause(t *testing.T) {
	s := start(t, "fan-cooler", nil)
	read := s.Open(context.Background()).Groups[0].Reader
	out := make([]telemetry.Reading, numChannels)
	read.Read(0, out)
	read.Read(24*time.Hour, out)
	if st, _ := s.State(); math.Abs(st.TimeS-60.1) > 0.01 {
		t.Errorf("%g s simulated after a day's pause, want 60", st.TimeS)
	}
	read.Read(time.Hour, out) // time never runs backwards, but nothing may break
	if out[chDie].State != telemetry.Held {
		t.Errorf("a reading without a step is %v, want held", out[chDie].State)
	}
}

func TestConfigErrors(t *testing.T) {
	for want, change := range map[string]func(*Config){
		"step":         func(c *Config) { c.Step = 3 * time.Millisecond },
		"short-term":   func(c *Config) { c.Limits.ShortW = 20 },
		"window":       func(c *Config) { c.Limits.WindowS = 0 },
		"plan":         func(c *Config) { c.Plan.CoolS = -1 },
		"correlation":  func(c *Config) { c.Room.DriftS = 0 },
		"clocks":       func(c *Config) { c.Chip.CeilingMHz = 100 },
		"plate-again":  func(c *Config) { c.Setups[2].Cooling.BlockR = 0 },
		"no setup is":  func(c *Config) { c.Selected = "" },
		"no setup is ": func(c *Config) { c.Setups = nil },
	} {
		c := Default()
		change(&c)
		if _, err := New(c); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want an error about %q, got %v", want, err)
		}
	}
}
