package powercap

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"soakline/collector/rawfs"
	"soakline/collector/rawfs/rawfstest"
	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

const energyFile = "sys/class/powercap/intel-rapl:0/energy_uj"

// stepped is a source on a clock that the test moves.
func stepped(t *testing.T, m *rawfstest.Machine) (telemetry.Inventory, *time.Duration) {
	t.Helper()
	s, clock := New(m.Tree()), new(time.Duration)
	s.now = func() time.Duration { return *clock }
	inv := s.Open(context.Background())
	t.Cleanup(func() { sourcetest.Close(t, inv) })
	return inv, clock
}

func TestContractOnEveryMachine(t *testing.T) {
	for _, name := range []string{"intel-notebook", "amd-desktop", "failing-board", "no-sensors"} {
		t.Run(name, func(t *testing.T) {
			m := rawfstest.Unpack(t, name)
			sourcetest.Check(t, func() telemetry.Source { return New(m.Tree()) })
		})
	}
}

func TestPowerIsTheDifferenceQuotient(t *testing.T) {
	m := rawfstest.Unpack(t, "intel-notebook")
	inv, clock := stepped(t, m)
	const power, energy = "powercap/intel-rapl/package-0/power", "powercap/intel-rapl/package-0/energy"
	if r := sourcetest.Read(inv, 0)[power]; r.State != telemetry.NoData || !math.IsNaN(r.Value) {
		t.Errorf("first read: %+v, want no data: one reading makes no power", r)
	}
	*clock = 100 * time.Millisecond
	m.Write(energyFile, "262101500000\n") // 1.5 J in 0.1 s
	r := sourcetest.Read(inv, *clock)
	if math.Abs(r[power].Value-15) > 1e-9 || r[power].State != telemetry.Fresh {
		t.Errorf("power %+v, want 15 W", r[power])
	}
	if math.Abs(r[energy].Value-262101.5) > 1e-6 {
		t.Errorf("energy %+v, want 262101.5 J", r[energy])
	}
	*clock = 200 * time.Millisecond
	m.Write(energyFile, "1171150\n") // 41.8285 J to the range of 262143.32885 J, 1.17115 J after it
	r = sourcetest.Read(inv, *clock)
	if want := (262143.328850 - 262101.5 + 1.171150) / 0.1; math.Abs(r[power].Value-want) > 1e-6 || r[power].State != telemetry.Fresh {
		t.Errorf("across the wrap: %+v, want %v W", r[power], want)
	}
	if math.Abs(r[energy].Value-262144.5) > 1e-6 {
		t.Errorf("energy across the wrap: %+v, want 262144.5 J", r[energy])
	}
}

// A register of 32 bits that counts in the kernel's 61035 nJ (unit 2^-14 J, SDM Vol. 3B
// 14.9.1) wraps every 97 min at 45 W; a whole day must add up.
func TestTotalOverManyWraps(t *testing.T) {
	const unit, watts, span = 61.035e-6, 45.0, 262143328850
	c := counter{span: span, mustFlow: true}
	wraps, last := 0, int64(0)
	for i := range 24 * 3600 {
		at := time.Duration(i) * time.Second
		ticks := int64(watts * at.Seconds() / unit)
		raw := int64(float64(ticks%(1<<32)) * unit * 1e6)
		if raw < last {
			wraps++
		}
		last = raw
		power, _ := c.step(raw, at, at)
		if i > 0 && math.Abs(power.Value-watts) > 0.01 {
			t.Fatalf("after %v: %+v, want %v W", at, power, watts)
		}
	}
	if want := watts * (24*3600 - 1); math.Abs(c.total-want) > 1 || wraps != 14 {
		t.Errorf("total %v J after %d wraps, want %v J after 14", c.total, wraps, want)
	}
}

func TestCounterGaps(t *testing.T) {
	const span = 65532610987 // 2^-16 J: wraps in 65.5 s at 1000 W
	for _, c := range []struct {
		why           string
		raw           int64
		now, at       time.Duration
		power, energy telemetry.State
	}{
		{"more than one wrap is possible", 5e9, 66 * time.Second, 66 * time.Second, telemetry.GapCounter, telemetry.GapCounter},
		{"restarted from 0", 1000, time.Second, time.Second, telemetry.GapCounter, telemetry.GapCounter},
		{"the machine slept", 1.5e9, time.Second, time.Minute, telemetry.GapCounter, telemetry.GapCounter},
		{"a package that draws nothing", 1e9, time.Second, time.Second, telemetry.GapImplausible, telemetry.Fresh},
		{"read too soon after the last", 1e9 + 1000, time.Millisecond, time.Millisecond, telemetry.NoData, telemetry.Fresh},
		{"an ordinary step", 1.045e9, time.Second, time.Second, telemetry.Fresh, telemetry.Fresh},
	} {
		k := counter{span: span, mustFlow: true}
		k.step(1e9, 0, 0)
		power, energy := k.step(c.raw, c.now, c.at)
		if power.State != c.power || energy.State != c.energy {
			t.Errorf("%s: power state %d, energy state %d; want %d, %d", c.why, power.State, energy.State, c.power, c.energy)
		}
		before := k.total
		next, _ := k.step(c.raw+45e6, c.now+time.Second, c.at+time.Second)
		if math.Abs(next.Value-45) > 0.1 || next.State != telemetry.Fresh || k.total < before {
			t.Errorf("%s: the next power is %+v, want 45 W; total %v to %v", c.why, next, before, k.total)
		}
	}
}

// The package shows up twice; its energy is read once.
func TestRepeatedPackageIsNotAdded(t *testing.T) {
	inv, _ := stepped(t, rawfstest.Unpack(t, "intel-notebook"))
	powers := 0
	for _, key := range sourcetest.Keys(inv) {
		if strings.HasSuffix(key, "package-0/power") {
			powers++
		}
		if strings.Contains(key, "mmio") && strings.HasSuffix(key, "/energy") {
			t.Errorf("%s counts the package's energy a second time", key)
		}
	}
	if powers != 1 {
		t.Errorf("%d package powers, want 1", powers)
	}
}

// Limits are those of the worked register value 0x0042816000DD8078; the second
// interface has its long-term limit raised to 28 W, and the lower one holds.
func TestLimitsAndWindows(t *testing.T) {
	m := rawfstest.Unpack(t, "intel-notebook")
	inv, _ := stepped(t, m)
	got := sourcetest.Read(inv, 0)
	for key, want := range map[string]float64{
		"powercap/intel-rapl/package-0/long-term-limit":        15,
		"powercap/intel-rapl/package-0/long-term-window":       27.983872,
		"powercap/intel-rapl/package-0/short-term-limit":       44,
		"powercap/intel-rapl/package-0/short-term-window":      0.00244,
		"powercap/intel-rapl/package-0/peak-limit":             121,
		"powercap/intel-rapl-mmio/package-0/long-term-limit":   28,
		"powercap/intel-rapl/package-0/long-term-limit/lower":  15,
		"powercap/intel-rapl/package-0/short-term-limit/lower": 44,
	} {
		if r, ok := got[key]; !ok || math.Abs(r.Value-want) > 1e-9 {
			t.Errorf("%s = %+v (there: %v), want %v", key, r, ok, want)
		}
	}
	for _, want := range []telemetry.Setting{{Key: "package long-term limit", Value: "15 W"}, {Key: "package long-term window", Value: "27.98 s"},
		{Key: "package (memory-mapped interface) long-term limit", Value: "28 W"}} {
		if !slices.Contains(inv.Conditions, want) {
			t.Errorf("condition %+v is not among %+v", want, inv.Conditions)
		}
	}
	for _, key := range sourcetest.Keys(inv) {
		if strings.Contains(key, "core/") && strings.Contains(key, "-limit") {
			t.Errorf("%s: a limit of 0 W is no limit", key)
		}
	}
	m.Write("sys/class/powercap/intel-rapl-mmio:0/constraint_0_power_limit_uw", "12000000\n")
	if r := sourcetest.Read(inv, 0)["powercap/intel-rapl/package-0/long-term-limit/lower"]; r.Value != 12 {
		t.Errorf("after the second interface moved to 12 W: %+v", r)
	}
	var all []telemetry.Channel
	for _, g := range inv.Groups {
		all = append(all, g.Channels...)
	}
	all, _ = telemetry.Resolve(all, nil)
	for role, key := range map[telemetry.Role]string{
		telemetry.RolePower:      "powercap/intel-rapl/package-0/power",
		telemetry.RoleLongLimit:  "powercap/intel-rapl/package-0/long-term-limit/lower",
		telemetry.RoleShortLimit: "powercap/intel-rapl/package-0/short-term-limit/lower",
		telemetry.RoleLongWindow: "powercap/intel-rapl/package-0/long-term-window",
	} {
		if i := telemetry.IndexOf(all, role); i < 0 || all[i].Key != key {
			t.Errorf("role %s is not held by %s (index %d)", role, key, i)
		}
	}
}

func TestRefusedCounterIsMissingWithRemedy(t *testing.T) {
	m := rawfstest.Unpack(t, "intel-notebook")
	for _, z := range []string{"intel-rapl:0", "intel-rapl:0:0", "intel-rapl:0:1", "intel-rapl:1"} {
		m.Fail(rawfs.OpOpen, "sys/class/powercap/"+z+"/energy_uj", unix.EACCES)
	}
	inv, _ := stepped(t, m)
	if inv.Status != telemetry.Running {
		t.Errorf("status %s: the limits can still be read", inv.Status)
	}
	found := false
	for _, miss := range inv.Missing {
		if miss.Role != telemetry.RolePower {
			continue
		}
		found = true
		if want := "open " + m.Root + "/" + energyFile + ": permission denied"; miss.Reason != want || miss.Remedy == "" || miss.Name != "package power" {
			t.Errorf("missing %+v, want reason %q and a remedy", miss, want)
		}
	}
	if !found {
		t.Errorf("package power is not among the missing: %+v", inv.Missing)
	}
}

func TestDesktopHasEnergyAndNoLimits(t *testing.T) {
	inv, _ := stepped(t, rawfstest.Unpack(t, "amd-desktop"))
	want := "powercap/intel-rapl/package-0/core/energy powercap/intel-rapl/package-0/core/power " +
		"powercap/intel-rapl/package-0/energy powercap/intel-rapl/package-0/power"
	if got := strings.Join(sourcetest.Keys(inv), " "); got != want {
		t.Errorf("keys\n got %s\nwant %s", got, want)
	}
}

// A failed read is a gap; the next good one gives the mean power since the last good one.
func TestReadErrorIsAGap(t *testing.T) {
	m := rawfstest.Unpack(t, "amd-desktop")
	inv, clock := stepped(t, m)
	const power = "powercap/intel-rapl/package-0/power"
	sourcetest.Read(inv, 0)
	m.Fail(rawfs.OpRead, energyFile, unix.EINVAL)
	*clock = time.Second
	if r := sourcetest.Read(inv, *clock)[power]; r.State != telemetry.GapIO {
		t.Errorf("a read that fails with EINVAL: %+v", r)
	}
	m.Fail(rawfs.OpRead, energyFile, nil)
	m.Write(energyFile, "65530200000\n") // 0.2 J
	*clock = 2 * time.Second
	if r := sourcetest.Read(inv, *clock)[power]; math.Abs(r.Value-0.1) > 1e-9 {
		t.Errorf("after the error: %+v, want 0.1 W", r)
	}
}

// Two packages keep apart in name and rank.
func TestTwoPackages(t *testing.T) {
	m := rawfstest.FromText(t, `made for this test
-- sys/class/powercap/intel-rapl:0/name --
package-1
-- sys/class/powercap/intel-rapl:0/energy_uj --
1000000
-- sys/class/powercap/intel-rapl:0/max_energy_range_uj --
262143328850
-- sys/class/powercap/intel-rapl:1/name --
package-0
-- sys/class/powercap/intel-rapl:1/energy_uj --
2000000
-- sys/class/powercap/intel-rapl:1/max_energy_range_uj --
262143328850
-- sys/class/powercap/intel-rapl:1:a/name --
dram
-- sys/class/powercap/intel-rapl:1:a/energy_uj --
3000000
`)
	inv, _ := stepped(t, m)
	first := sourcetest.Channel(t, inv, "powercap/intel-rapl/package-0/power")
	second := sourcetest.Channel(t, inv, "powercap/intel-rapl/package-1/power")
	if first.Name != "package 0 power" || second.Name != "package 1 power" || first.Rank <= second.Rank {
		t.Errorf("%+v\n%+v", first, second)
	}
	if c := sourcetest.Channel(t, inv, "powercap/intel-rapl/package-0/dram/power"); c.Name != "package 0 memory power" || c.Role != telemetry.RoleNone {
		t.Errorf("%+v", c)
	}
}
