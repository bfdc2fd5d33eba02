package nvml

import (
	"context"
	"encoding/binary"
	"errors"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/rawfs/rawfstest"
	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

// fakeCard answers from a table.
type fakeCard struct {
	answers answers
	err     error
	reads   int
	asked   [numQuestions]int
	closed  int
}

func (c *fakeCard) name() string { return "test card" }
func (c *fakeCard) close() error { c.closed++; return nil }
func (c *fakeCard) read(a *answers, ask *asked) error {
	c.reads++
	for i := range c.answers {
		if ask[i] {
			a[i] = c.answers[i]
			c.asked[i]++
		}
	}
	return c.err
}

func working() *fakeCard {
	c := &fakeCard{}
	for i, v := range map[int]float64{askPower: 650250, askAverage: 640000, askEnergy: 1000000, askMemoryTemperature: 71, askLimit: 700000,
		askTemperature: 62, askGraphicsClock: 1650, askMemoryClock: 2619, askLoad: 100, askReasons: 4, askShutdown: 95, askSlowdown: 92,
		askMemoryMax: 105, askCardMax: 87, askPowerTime: 5e9} {
		c.answers[i] = answer{v, success}
	}
	c.answers[askFan] = answer{math.NaN(), notSupported}
	for _, i := range []int{askThermalTime, askHWThermalTime, askBrakeTime} {
		c.answers[i] = answer{0, success}
	}
	return c
}

const (
	cardDir = "sys/bus/pci/devices/0000:01:00.0"
	tree    = `a notebook's second graphics unit; made for this test
-- sys/bus/pci/devices/0000:01:00.0/vendor --
0x10de
-- sys/bus/pci/devices/0000:01:00.0/class --
0x030200
-- sys/bus/pci/devices/0000:01:00.0/power/runtime_status --
active
-- sys/bus/pci/devices/0000:01:00.0/power/control --
auto
-- sys/bus/pci/drivers/nvidia/module --
-- sys/bus/pci/devices/0000:01:00.0/driver -> ../../drivers/nvidia --
-- sys/bus/pci/devices/0000:01:00.1/vendor --
0x10de
-- sys/bus/pci/devices/0000:01:00.1/class --
0x040300
`
)

func source(m *rawfstest.Machine, c *fakeCard) (*Source, *time.Duration) {
	clock := new(time.Duration)
	return &Source{tree: m.Tree(), now: func() time.Duration { return *clock },
		open: func(string) (card, error) { return c, c.err }}, clock
}

func TestContract(t *testing.T) {
	m := rawfstest.FromText(t, tree)
	sourcetest.Check(t, func() telemetry.Source { s, _ := source(m, working()); return s })
	m.Write(cardDir+"/power/runtime_status", "suspended\n")
	sourcetest.Check(t, func() telemetry.Source { s, _ := source(m, working()); return s })
}

func TestValuesAndRoles(t *testing.T) {
	s, _ := source(rawfstest.FromText(t, tree), working())
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	got := sourcetest.Read(inv, 0)
	for key, want := range map[string]float64{"board-power": 650.25, "energy": 1000, "power-limit": 700, "temperature": 62, "thermal-limit": 87,
		"core-clock": 1650, "load": 100, "reasons": 4, "time-at-the-power-limit": 5} {
		if r := got["nvml/0000:01:00.0/"+key]; r.State != telemetry.Fresh || math.Abs(r.Value-want) > 1e-9 {
			t.Errorf("%s: %+v, want %v", key, r, want)
		}
	}
	if _, there := got["nvml/0000:01:00.0/fan-duty-asked-for"]; there {
		t.Error("a fan that the card does not have is a channel")
	}
	if len(inv.Missing) != 1 || !strings.Contains(inv.Missing[0].Reason, "fan duty") {
		t.Errorf("missing: %+v", inv.Missing)
	}
	if c := sourcetest.Channel(t, inv, "nvml/0000:01:00.0/board-power"); c.Role != telemetry.RolePower {
		t.Errorf("alone in the computer, the card's power has the role %q", c.Role)
	}
}

// Costly questions are asked once a second or less; between, the last answer is held.
func TestPaces(t *testing.T) {
	c := working()
	s, _ := source(rawfstest.FromText(t, tree), c)
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	c.asked = [numQuestions]int{}
	for at := time.Duration(0); at < 20*time.Second; at += 100 * time.Millisecond {
		got := sourcetest.Read(inv, at)
		want := telemetry.Held
		if at%time.Second == 0 {
			want = telemetry.Fresh
		}
		if r := got["nvml/0000:01:00.0/energy"]; r.State != want || r.Value != 1000 {
			t.Fatalf("energy at %v: %+v", at, r)
		}
		if r := got["nvml/0000:01:00.0/board-power"]; r.State != telemetry.Fresh {
			t.Fatalf("power at %v: %+v", at, r)
		}
	}
	if c.asked[askPower] != 200 || c.asked[askEnergy] != 20 || c.asked[askCardMax] != 2 {
		t.Errorf("in 20 s asked %d times for power, %d for energy, %d for the thermal limit", c.asked[askPower], c.asked[askEnergy], c.asked[askCardMax])
	}
}

// Beside a processor with sensors the card holds no role.
func TestNoRolesBesideAProcessor(t *testing.T) {
	m := rawfstest.FromText(t, tree)
	m.Write("sys/class/hwmon/hwmon3/name", "k10temp\n")
	s, _ := source(m, working())
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	for _, c := range inv.Groups[0].Channels {
		if c.Role != telemetry.RoleNone {
			t.Errorf("%s has the role %q", c.Name, c.Role)
		}
	}
}

// A sleeping card is never opened, at the start nor later; awake again, it is read.
func TestAsleepIsLeftAsleep(t *testing.T) {
	m, c := rawfstest.FromText(t, tree), working()
	m.Write(cardDir+"/power/runtime_status", "suspended\n")
	s, _ := source(m, c)
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	if r := sourcetest.Read(inv, time.Second)["nvml/0000:01:00.0/board-power"]; r.State != telemetry.GapAsleep || c.reads != 0 {
		t.Errorf("asleep: %+v after %d reads", r, c.reads)
	}
	m.Write(cardDir+"/power/runtime_status", "active\n")
	if r := sourcetest.Read(inv, 2*time.Second)["nvml/0000:01:00.0/board-power"]; r.State != telemetry.Fresh {
		t.Errorf("awake: %+v", r)
	}
	m.Write(cardDir+"/power/runtime_status", "suspending\n")
	if r := sourcetest.Read(inv, 3*time.Second)["nvml/0000:01:00.0/board-power"]; r.State != telemetry.GapAsleep || c.closed != 1 {
		t.Errorf("falling asleep: %+v, closed %d times", r, c.closed)
	}
}

// A card that may sleep is let go after a minute without work, left alone for a while,
// and read on if it stayed awake.
func TestIdleCardIsLetGo(t *testing.T) {
	c := working()
	c.answers[askLoad], c.answers[askReasons] = answer{0, success}, answer{1, success}
	s, _ := source(rawfstest.FromText(t, tree), c)
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	last := telemetry.Fresh
	var changes []time.Duration
	for at := time.Duration(0); at < 100*time.Second; at += time.Second {
		if st := sourcetest.Read(inv, at)["nvml/0000:01:00.0/temperature"].State; st != last {
			changes, last = append(changes, at), st
		}
	}
	if len(changes) != 2 || changes[0] != 61*time.Second || changes[1] != 90*time.Second || c.closed != 1 {
		t.Errorf("let go and taken back at %v, closed %d times", changes, c.closed)
	}
}

// A library that hangs or fails makes gaps and is tried again later.
func TestFailingLibrary(t *testing.T) {
	c := working()
	s, _ := source(rawfstest.FromText(t, tree), c)
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	state := func(at time.Duration) telemetry.State {
		return sourcetest.Read(inv, at)["nvml/0000:01:00.0/energy"].State
	}
	c.err = os.ErrDeadlineExceeded
	if s := state(time.Second); s != telemetry.GapTimeout {
		t.Errorf("a hanging library: %s", s.Reason())
	}
	c.err = nil
	if s := state(2 * time.Second); s != telemetry.GapTimeout {
		t.Errorf("1 s later it was asked again: %s", s.Reason())
	}
	if s := state(12 * time.Second); s != telemetry.Fresh { // asked anew at once
		t.Errorf("11 s later: %s", s.Reason())
	}
	c.err = errors.New("broken pipe")
	if s := state(13 * time.Second); s != telemetry.GapIO {
		t.Errorf("a crashed library: %s", s.Reason())
	}
}

func TestOtherDriverIsMissing(t *testing.T) {
	m := rawfstest.FromText(t, strings.ReplaceAll(tree, "drivers/nvidia", "drivers/nouveau"))
	s, _ := source(m, working())
	inv := s.Open(context.Background())
	if inv.Status != telemetry.Failed || !strings.Contains(inv.Reason, "nouveau") || inv.Missing[0].Remedy == "" {
		t.Errorf("%+v", inv)
	}
}

// The layout is nvmlFieldValue_t of nvml.h on a 64-bit system, written here by hand.
func TestDecodeField(t *testing.T) {
	b := make([]byte, fieldSize)
	le := binary.LittleEndian
	le.PutUint32(b, 186)
	le.PutUint64(b[8:], 1764060000000000)
	for _, c := range []struct {
		kind uint32
		raw  uint64
		want float64
	}{{0, math.Float64bits(1.5), 1.5}, {1, 0xffffffff00000007, 7}, {3, 1 << 40, 1 << 40}, {4, ^uint64(8), -9},
		{5, 0x12345678fffffff6, -10}, {6, 0xabcd0005, 5}} {
		le.PutUint32(b[24:], c.kind)
		le.PutUint64(b[32:], c.raw)
		if a := decodeField(b); a.code != success || a.value != c.want {
			t.Errorf("type %d: %+v, want %v", c.kind, a, c.want)
		}
	}
	le.PutUint32(b[28:], 3)
	if a := decodeField(b); a.code != notSupported {
		t.Errorf("an error counts as %+v", a)
	}
}

// Every return value of the header, and any other, is a state and words.
func TestEveryReturnIsAState(t *testing.T) {
	for c := code(0); c < 1100; c++ {
		if s := c.state(); (s == telemetry.Fresh) != (c == success) || s == telemetry.NoData || c.String() == "" {
			t.Errorf("return %d: state %d, %q", c, s, c)
		}
	}
	for c, want := range map[code]telemetry.State{3: telemetry.GapDisabled, 4: telemetry.GapDenied, 10: telemetry.GapTimeout,
		15: telemetry.GapGone, 27: telemetry.GapNotReady, 999: telemetry.GapIO} {
		if c.state() != want {
			t.Errorf("return %d is %s", c, c.state().Reason())
		}
	}
}

// TestRealCard reads the computer's own cards, where it has any; -v prints what they say
// and what a read costs.
func TestRealCard(t *testing.T) {
	s := New(rawfs.At("/"))
	if len(s.cards()) == 0 {
		t.Skip("no card of this vendor here")
	}
	// The runtime keeps two descriptors for the first pipe that is waited on.
	if in, out, err := os.Pipe(); err == nil {
		in.SetReadDeadline(time.Now())
		in.Read(make([]byte, 1))
		in.Close()
		out.Close()
	}
	sourcetest.Check(t, func() telemetry.Source { return New(rawfs.At("/")) })
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	for _, m := range inv.Missing {
		t.Logf("missing %s: %s", m.Name, m.Reason)
	}
	for _, g := range inv.Groups {
		out := make([]telemetry.Reading, len(g.Channels))
		var took []time.Duration
		for n := range 60 {
			start := time.Now()
			g.Reader.Read(time.Duration(n)*every, out)
			took = append(took, time.Since(start))
			time.Sleep(every)
		}
		t.Logf("%s: reads took %v", g.Name, took)
		for i, c := range g.Channels {
			t.Logf("  %-36s %12.6g %-4s %-16s %s", c.Name, out[i].Value, c.Quantity.Symbol(), c.Role, out[i].State.Reason())
		}
		if r := out[0]; !r.State.Usable() || r.Value < 1 {
			t.Errorf("the card's power: %+v", r)
		}
	}
}
