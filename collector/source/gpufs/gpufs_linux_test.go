package gpufs

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/rawfs/rawfstest"
	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

const (
	amdDir   = "sys/devices/pci0000:00/0000:00:03.0/0000:04:00.0"
	xeDir    = "sys/devices/pci0000:00/0000:00:01.0/0000:03:00.0"
	i915Dir  = "sys/devices/pci0000:00/0000:00:02.0"
	table    = amdDir + "/gpu_metrics"
	xeEnergy = xeDir + "/hwmon/hwmon4/energy1_input"
)

// golden is a table of testdata/make.py.
func golden(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func machine(t *testing.T, golden string) *rawfstest.Machine {
	t.Helper()
	m := rawfstest.Unpack(t, "graphics")
	m.Write(table, golden)
	return m
}

func source(m *rawfstest.Machine) (*Source, *time.Duration) {
	clock := new(time.Duration)
	return &Source{tree: m.Tree(), now: func() time.Duration { return *clock }}, clock
}

func TestContract(t *testing.T) {
	for _, v := range []string{"v1_0", "v1_3", "v2_2", "v3_0"} {
		m := machine(t, golden(t, v+".bin"))
		sourcetest.Check(t, func() telemetry.Source { s, _ := source(m); return s })
	}
	m := machine(t, golden(t, "v1_3.bin"))
	for _, dir := range []string{amdDir, xeDir, i915Dir} {
		m.Write(dir+"/power/runtime_status", "suspended\n")
	}
	sourcetest.Check(t, func() telemetry.Source { s, _ := source(m); return s })
}

// Sizes as a C compiler gives them; Python's struct module laid the tables out.
func TestSizes(t *testing.T) {
	for v, l := range layouts {
		b, err := os.ReadFile(filepath.Join("testdata", fmt.Sprintf("v%d_%d.bin", v.format, v.content)))
		if os.IsNotExist(err) {
			continue
		}
		if size, is, ok := header(b); !ok || size != l.size || len(b) != l.size || is != v {
			t.Errorf("version %v: layout of %d bytes; the table has %d and says %d, version %v", v, l.size, len(b), size, is)
		}
	}
}

// Values of every version, against those that make.py put in.
func TestTables(t *testing.T) {
	card := map[string]float64{"edge-temperature": 61, "hotspot-temperature": 77, "power": 231, "clock": 2304, "fan": 1620, "load": 97}
	processor := map[string]float64{"temperature": 53.12, "SoC-temperature": 51.90, "processor-core-0-temperature": 64.25,
		"socket-power": 14.9, "power": 4.1, "processor-power": 9.1, "clock": 1605}
	for name, want := range map[string]map[string]float64{"v1_0": card, "v1_1": card, "v1_3": card, "v2_0": processor, "v2_1": processor,
		"v2_2": processor, "v2_3": processor, "v2_4": processor,
		"v3_0": {"temperature": 47.25, "skin-temperature": 38.9, "socket-power": 28.123, "power": 12.5, "all-cores-power": 11, "sustained-limit": 28, "clock-averaged": 1850}} {
		s, _ := source(machine(t, golden(t, name+".bin")))
		inv := s.Open(context.Background())
		got := sourcetest.Read(inv, 0)
		for what, v := range want {
			if r := got["gpufs/0000:04:00.0/"+what]; r.State != telemetry.Fresh || math.Abs(r.Value-v) > 1e-9 {
				t.Errorf("%s: %s is %+v, want %v", name, what, r, v)
			}
		}
		if _, there := got["gpufs/0000:04:00.0/regulator-temperature"]; name == "v2_1" && there {
			t.Errorf("%s: a field of another format is a channel", name)
		}
		sourcetest.Close(t, inv)
	}
}

// limiters names the limiters that a mask of a channel stands for.
func limiters(c telemetry.Channel, mask float64) string {
	var names []string
	for _, b := range c.Bits {
		if uint64(mask)&b.Mask != 0 {
			names = append(names, b.Name+"="+b.Limiter)
		}
	}
	return strings.Join(names, " ")
}

func TestReasons(t *testing.T) {
	for name, want := range map[string]string{
		"v1_3": "PPT0=power-long TDC_GFX=current TEMP_HOTSPOT=thermal",
		"v2_2": "SPL=power-long SPPT=power-long TEMP_CORE=thermal",
		"v2_3": "FPPT=power-short",
		"v2_4": "TEMP_VR, TEMP_LIQUID or VRHOT=thermal",
	} {
		s, _ := source(machine(t, golden(t, name+".bin")))
		inv := s.Open(context.Background())
		c := sourcetest.Channel(t, inv, "gpufs/0000:04:00.0/reasons")
		if got := limiters(c, sourcetest.Read(inv, 0)[c.Key].Value); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
		if role := c.Role; (role == telemetry.RoleReasons) != (name[:2] == "v2") {
			t.Errorf("%s: role %q", name, role)
		}
		sourcetest.Close(t, inv)
	}
	for i := uint(0); i < 64; i++ {
		if gather(1<<i) >= 1<<24 {
			t.Errorf("bit %d makes a mask beyond 24 bits", i)
		}
	}
}

// Format 3 counts how long each limiter was active: the one that grows is active.
func TestResidencies(t *testing.T) {
	m := machine(t, golden(t, "v3_0.bin"))
	s, _ := source(m)
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	c := sourcetest.Channel(t, inv, "gpufs/0000:04:00.0/reasons")
	if r := sourcetest.Read(inv, 0)[c.Key]; r.State != telemetry.NoData {
		t.Errorf("the first reading: %+v", r)
	}
	b := []byte(golden(t, "v3_0.bin"))
	at := layouts[version{3, 0}].fields["res_spl"].offset
	b[at]++
	m.Write(table, string(b))
	if got := limiters(c, sourcetest.Read(inv, time.Second)[c.Key].Value); got != "SPL=power-long" {
		t.Errorf("after the sustained limit's count grew: %q", got)
	}
	if r := sourcetest.Read(inv, 2*time.Second)[c.Key]; r.Value != 0 {
		t.Errorf("after nothing grew: %+v", r)
	}
}

func TestBadTables(t *testing.T) {
	good := golden(t, "v1_3.bin")
	for name, b := range map[string]string{"empty": "", "short": good[:50], "unknown version": good[:2] + "\x09\x07" + good[4:],
		"too small for its version": "\x10\x00" + good[2:]} {
		s, _ := source(machine(t, b))
		inv := s.Open(context.Background())
		found := false
		for _, miss := range inv.Missing {
			found = found || strings.Contains(miss.Name, "metrics table") && strings.Contains(miss.Reason, "gpu_metrics")
		}
		if !found {
			t.Errorf("%s: not among the missing: %+v", name, inv.Missing)
		}
		sourcetest.Close(t, inv)
	}
	m := machine(t, good)
	s, _ := source(m)
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	m.Write(table, golden(t, "v1_1.bin"))
	if r := sourcetest.Read(inv, time.Second)["gpufs/0000:04:00.0/power"]; r.State != telemetry.GapUnreadable {
		t.Errorf("a table that changed its version: %+v", r)
	}
}

func TestIntel(t *testing.T) {
	m := machine(t, golden(t, "v1_3.bin"))
	s, clock := source(m)
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	got := sourcetest.Read(inv, 0)
	for key, want := range map[string]float64{"0000:00:02.0/clock": 1150, "0000:03:00.0/gt0-clock": 2400, "0000:03:00.0/gt1-clock": 1200} {
		if r := got["gpufs/"+key]; r.Value != want {
			t.Errorf("%s: %+v, want %v", key, r, want)
		}
	}
	for key, want := range map[string]string{"0000:00:02.0/reasons": "PL1=power-long THERMAL=thermal", "0000:03:00.0/gt0-reasons": "PL2=power-short VR_TDC=current"} {
		c := sourcetest.Channel(t, inv, "gpufs/"+key)
		if names := limiters(c, got[c.Key].Value); names != want {
			t.Errorf("%s: %q, want %q", key, names, want)
		}
	}
	// The counter is seen to move once, then 45 J more in a second.
	for i, uj := range []string{"5000100000", "5045100000"} {
		m.Write(xeEnergy, uj+"\n")
		*clock = time.Duration(i+1) * time.Second
		got = sourcetest.Read(inv, *clock)
	}
	if r := got["gpufs/0000:03:00.0/card-power"]; r.State != telemetry.Fresh || math.Abs(r.Value-45) > 1e-9 {
		t.Errorf("card power: %+v, want 45 W", r)
	}
}

// A sleeping unit's files are not even opened for reading: a hook fails the test if they
// are read.
func TestAsleepIsUntouched(t *testing.T) {
	m := machine(t, golden(t, "v1_3.bin"))
	for _, dir := range []string{amdDir, xeDir, i915Dir} {
		m.Write(dir+"/power/runtime_status", "suspended\n")
	}
	touched := ""
	s := New(rawfs.At(m.Root).WithHook(func(op rawfs.Op, p string) error {
		if op == rawfs.OpRead && !strings.HasSuffix(p, "/runtime_status") && !strings.HasSuffix(p, "/vendor") {
			touched = p
		}
		return nil
	}))
	inv := s.Open(context.Background())
	defer sourcetest.Close(t, inv)
	for key, r := range sourcetest.Read(inv, time.Second) {
		if r.State != telemetry.GapAsleep {
			t.Errorf("%s: %+v", key, r)
		}
	}
	if touched != "" {
		t.Errorf("%s was read while its unit slept", touched)
	}
}

func FuzzTable(f *testing.F) {
	for _, v := range []string{"v1_3", "v2_2", "v3_0"} {
		b, err := os.ReadFile(filepath.Join("testdata", v+".bin"))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		size, v, ok := header(b)
		l, known := layouts[v]
		if !ok || !known || size > len(b) || size < l.size {
			return
		}
		for name, p := range l.fields {
			if p.offset+p.width > l.size {
				t.Errorf("version %v: %s ends at %d of %d", v, name, p.offset+p.width, l.size)
			}
			p.value(b)
		}
	})
}
