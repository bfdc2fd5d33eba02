package msr

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"soakline/collector/rawfs"
	"soakline/collector/rawfs/rawfstest"
	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

const devicePath = "dev/cpu/0/msr"

// machine is a computer with one processor whose registers a test sets. Registers lie one
// byte apart and are 8 bytes wide, so that no plain file can stand for the device.
type machine struct {
	*rawfstest.Machine
	values map[int64]uint64
	clock  time.Duration
}

func (m *machine) read(address int64) (uint64, telemetry.State) {
	v, there := m.values[address]
	if !there {
		return 0, telemetry.GapDisabled
	}
	return v, telemetry.Fresh
}

func (m *machine) Close() error { return nil }

func (m *machine) source() *Source {
	s := New(m.Tree())
	s.open = func(string) (registers, error) { return m, nil }
	s.now = func() time.Duration { return m.clock }
	return s
}

func processor(t *testing.T, vendor string, family, number int, values map[int64]uint64) *machine {
	t.Helper()
	return &machine{values: values, Machine: rawfstest.FromText(t, fmt.Sprintf(
		"made for this test\n-- proc/cpuinfo --\nprocessor\t: 0\nvendor_id\t: %s\ncpu family\t: %d\nmodel\t\t: %d\n"+
			"\nprocessor\t: 1\nvendor_id\t: other\n-- %s/cpu0/topology/physical_package_id --\n0\n-- %s --\n", vendor, family, number, cpuDir, devicePath))}
}

// client is a notebook's processor: units 1/8 W, 2^-14 J, 2^-10 s; long-term limit 15 W
// over 28 s, short-term 44 W; 63 °C of at most 100, held back from 95 on.
func client(t *testing.T, number int) *machine {
	return processor(t, "GenuineIntel", 6, number, map[int64]uint64{
		regUnits: 0xA0E03, regPowerLimit: 0x0042816000DD8078, regEnergy: 0xFFFFF000, regThrottledTime: 2048, regPeakLimit: 0x320,
		regPackageThermal: 1<<31 | 1<<27 | 37<<16 | 1<<10, regThermalTarget: 5<<24 | 100<<16,
		0x64F: 1<<10 | 1<<26 | 1<<17, 0x690: 0, regGraphicsReason: 1 << 1, regRingReason: 0,
	})
}

func TestContract(t *testing.T) {
	for _, number := range []int{0x8E, 0x3C, 0x5C, 0xFE, 0x37} {
		m := client(t, number)
		sourcetest.Check(t, func() telemetry.Source { return m.source() })
	}
}

// Worked examples of MSR_PKG_POWER_LIMIT by the field layout of Intel's SDM Vol. 3B,
// 14.9.3, worked out by hand with 1/8 W and 1/1024 s: 0x78 = 120 counts are 15 W, window
// 0x6E is 2^14 x 1.75 units, 28 s; 0x160 = 352 counts are 44 W, window 0x21 2^1 x 1.25
// units, 2.44 ms. The second is locked: 360 counts, 2^15 x 1.75; 920 counts, clamped.
func TestWorkedLimits(t *testing.T) {
	u := decodeUnits(0xA0E03)
	if u.watt != 0.125 || u.joule != 1.0/16384 || u.second != 1.0/1024 {
		t.Errorf("units %+v", u)
	}
	for _, c := range []struct {
		raw         uint64
		long, short limit
		locked      bool
	}{
		{0x0042816000DD8078, limit{15, 28, true, true}, limit{44, 0.00244140625, true, false}, false},
		{0x8043839800DF8168, limit{45, 56, true, true}, limit{115, 0.00244140625, true, true}, true},
	} {
		long, short, locked := decodeLimits(c.raw, u)
		if long != c.long || short != c.short || locked != c.locked {
			t.Errorf("%#x: %+v %+v %v", c.raw, long, short, locked)
		}
	}
}

func TestValues(t *testing.T) {
	m := client(t, 0x8E)
	s := m.source()
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	sourcetest.Read(inv, 0)
	m.clock = time.Second
	m.values[regEnergy] = 0x0003_0000 - 0x1000 // over the end of 32 bits: 0x30000 counts, 12 J
	got := sourcetest.Read(inv, m.clock)
	for key, want := range map[string]float64{"temperature": 63, "thermal-limit": 95, "power": 12, "long-term-limit": 15, "long-term-window": 28,
		"short-term-limit": 44, "peak-limit": 100, "limited-time": 2, "reasons": 1 << 10, "graphics-reasons": 2, "ring-reasons": 0, "thermal-status": 1 << 10} {
		if r := got["msr/package-0/"+key]; r.State != telemetry.Fresh || math.Abs(r.Value-want) > 1e-9 {
			t.Errorf("%s: %+v, want %v", key, r, want)
		}
	}
	if !hasCondition(inv, "package power limits locked", "no") {
		t.Errorf("conditions: %+v", inv.Conditions)
	}
}

func hasCondition(inv telemetry.Inventory, key, part string) bool {
	for _, c := range inv.Conditions {
		if c.Key == key && strings.Contains(c.Value, part) {
			return true
		}
	}
	return false
}

// A limiter that came and went between two reads is seen by its log bit; one whose log
// bit stood before is not seen again.
func TestLogBits(t *testing.T) {
	m := client(t, 0x5E)
	s := m.source()
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	c := sourcetest.Channel(t, inv, "msr/package-0/reasons")
	read := func(raw uint64) (names string) {
		m.values[0x64F] = raw
		v := sourcetest.Read(inv, 0)[c.Key].Value
		for _, b := range c.Bits {
			if uint64(v)&b.Mask != 0 {
				names += b.Limiter + " "
			}
		}
		return names
	}
	for i, step := range []struct {
		raw  uint64
		want string
	}{{1<<27 | 1<<10, "power-long "}, {1 << 27, ""}, {1<<27 | 1<<17, "thermal "}, {1<<27 | 1<<17, ""}, {1 << 11, "power-short "}} {
		if got := read(step.raw); got != step.want {
			t.Errorf("step %d: %q, want %q", i, got, step.want)
		}
	}
}

// Each generation's bit 10 means something else; a model without a table shows its bits
// and holds no role.
func TestModels(t *testing.T) {
	for number, want := range map[int]string{0x8E: "power-long", 0x3C: "power-long", 0x4F: "clock", 0x5C: "thermal", 0x9A: "power-long", 0xFE: ""} {
		m := client(t, number)
		s := m.source()
		inv := s.Open(context.Background())
		c := sourcetest.Channel(t, inv, "msr/package-0/reasons")
		limiter := "none"
		for _, b := range c.Bits {
			if b.Mask == 1<<10 {
				limiter = b.Limiter
			}
		}
		if limiter != want || (c.Role == telemetry.RoleReasons) != (want != "") {
			t.Errorf("model %#x: bit 10 is %q, role %q", number, limiter, c.Role)
		}
		if number == 0x9A && !hasCondition(inv, "package limit reasons decoded", "from memory") {
			t.Errorf("model %#x does not say that its table is from memory: %+v", number, inv.Conditions)
		}
		sourcetest.Close(t, inv)
	}
}

func TestAMDEnergy(t *testing.T) {
	m := processor(t, "AuthenticAMD", 0x19, 0x50, map[int64]uint64{regUnitsAMD: 0xA1003, regEnergyAMD: 1 << 20})
	s := m.source()
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	sourcetest.Read(inv, 0)
	m.clock = 2 * time.Second
	m.values[regEnergyAMD] = 1<<20 + 65536*130 // 2^-16 J each
	got := sourcetest.Read(inv, m.clock)
	if r := got["msr/package-0/power"]; math.Abs(r.Value-65) > 1e-9 {
		t.Errorf("power %+v, want 65 W", r)
	}
	if r := got["msr/package-0/energy"]; math.Abs(r.Value-146) > 1e-9 {
		t.Errorf("energy %+v, want 146 J", r)
	}
	m.values[regEnergyAMD] = 0 // a restart: 147 J of a million counts short of the end
	m.clock = 3 * time.Second
	got = sourcetest.Read(inv, m.clock)
	for _, key := range []string{"power", "energy"} {
		if r := got["msr/package-0/"+key]; r.State != telemetry.GapCounter {
			t.Errorf("%s after a restart: %+v", key, r)
		}
	}
}

// Where the kernel's power zones give the energy, the registers are left alone.
func TestEnergyIsLeftToPowercap(t *testing.T) {
	m := client(t, 0x8E)
	m.Write("sys/class/powercap/intel-rapl:0/name", "package-0\n")
	m.Write("sys/class/powercap/intel-rapl:0/energy_uj", "1\n")
	s := m.source()
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	for _, k := range sourcetest.Keys(inv) {
		if strings.HasSuffix(k, "/power") {
			t.Errorf("%s although powercap reads it", k)
		}
	}
	amd := processor(t, "AuthenticAMD", 0x19, 0x50, map[int64]uint64{regUnitsAMD: 0xA1003, regEnergyAMD: 1})
	amd.Write("sys/class/powercap/intel-rapl:0/name", "package-0\n")
	amd.Write("sys/class/powercap/intel-rapl:0/energy_uj", "1\n")
	if inv := amd.source().Open(context.Background()); inv.Status != telemetry.NotHere {
		t.Errorf("AMD beside powercap: %s, %s", inv.Status, inv.Reason)
	}
}

func TestDeniedAbsentAndVirtual(t *testing.T) {
	for errno, part := range map[unix.Errno]string{unix.EACCES: "Only root", unix.EPERM: "Only root", unix.ENOENT: "modprobe msr"} {
		m := client(t, 0x8E)
		m.Fail(rawfs.OpOpen, devicePath, errno)
		inv := New(m.Tree()).Open(context.Background())
		if inv.Status != telemetry.Failed || len(inv.Missing) != 1 || !strings.Contains(inv.Missing[0].Remedy, part) || inv.Missing[0].Role != telemetry.RoleReasons {
			t.Errorf("%v: %+v", errno, inv)
		}
	}
	m := processor(t, "GenuineIntel", 6, 0x8E, map[int64]uint64{regUnits: 0, 0x64F: 0})
	if inv := m.source().Open(context.Background()); inv.Status != telemetry.Failed || !strings.Contains(inv.Reason, "virtual machine") {
		t.Errorf("registers of zeros: %+v", inv)
	}
}

// The device itself: 8 bytes little endian at the register's number, opened for reading
// alone, each error a state.
func TestDevice(t *testing.T) {
	m := client(t, 0x8E)
	m.Write(devicePath, strings.Repeat("\x00", regUnits)+"\x03\x0e\x0a\x00\x00\x00\x00\x80")
	if err := os.Chmod(filepath.Join(m.Root, devicePath), 0o444); err != nil {
		t.Fatal(err)
	}
	d, err := openDevice(m.Tree(), "0")
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if v, state := d.read(regUnits); v != 0x80000000000A0E03 || state != telemetry.Fresh {
		t.Errorf("read %#x, state %d", v, state)
	}
	for errno, want := range map[unix.Errno]telemetry.State{unix.EIO: telemetry.GapDisabled, unix.ENODEV: telemetry.GapGone, unix.EPERM: telemetry.GapDenied} {
		m.Fail(rawfs.OpRead, devicePath, errno)
		if _, state := d.read(regUnits); state != want {
			t.Errorf("%v: %s", errno, state.Reason())
		}
	}
	m.Fail(rawfs.OpRead, devicePath, nil)
	if _, state := d.read(regEnergyAMD); state != telemetry.GapDisabled {
		t.Errorf("beyond the end: %s", state.Reason())
	}
}
