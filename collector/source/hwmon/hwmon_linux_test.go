package hwmon

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/rawfs/rawfstest"
	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

func open(t *testing.T, m *rawfstest.Machine) telemetry.Inventory {
	t.Helper()
	inv := New(m.Tree()).Open(context.Background())
	t.Cleanup(func() { sourcetest.Close(t, inv) })
	return inv
}

func TestContractOnEveryMachine(t *testing.T) {
	for _, name := range []string{"intel-notebook", "amd-desktop", "failing-board", "no-sensors"} {
		t.Run(name, func(t *testing.T) {
			m := rawfstest.Unpack(t, name)
			sourcetest.Check(t, func() telemetry.Source { return New(m.Tree()) })
		})
	}
}

// wantReadings compares values by key; NaN wants the gap state beside it.
type want struct {
	key   string
	value float64
	state telemetry.State
}

func check(t *testing.T, inv telemetry.Inventory, wants []want) {
	t.Helper()
	got := sourcetest.Read(inv, time.Second)
	for _, w := range wants {
		r, ok := got[w.key]
		if !ok {
			t.Errorf("no channel %q among %q", w.key, sourcetest.Keys(inv))
			continue
		}
		if r.State != w.state || (w.state == telemetry.Fresh && math.Abs(r.Value-w.value) > 1e-9) {
			t.Errorf("%s = %v, state %d; want %v, state %d", w.key, r.Value, r.State, w.value, w.state)
		}
	}
}

func TestNotebook(t *testing.T) {
	inv := open(t, rawfstest.Unpack(t, "intel-notebook"))
	check(t, inv, []want{
		{"hwmon/zone/x86-pkg-temp", 62, telemetry.Fresh},
		{"hwmon/zone/acpitz", 54, telemetry.Fresh},
		{"hwmon/zone/iwlwifi-1", 43, telemetry.Fresh},
		{"hwmon/coretemp.0/coretemp/temp1:package-id-0", 61, telemetry.Fresh},
		{"hwmon/coretemp.0/coretemp/temp5:core-3", 61, telemetry.Fresh},
		{"hwmon/coretemp.0/coretemp/temp1:package-id-0/limit", 95, telemetry.Fresh}, // critical 100 less offset 5
		{"hwmon/0000:01:00.0/nvme/temp1", 49.85, telemetry.Fresh},
		{"hwmon/BAT0/bat0/curr1", 1.321, telemetry.Fresh},
		{"hwmon/BAT0/bat0/power1", 21.3, telemetry.Fresh},
		{"hwmon/thinkpad_hwmon/thinkpad/fan1", 2741, telemetry.Fresh},
		{"hwmon/thinkpad_hwmon/thinkpad/fan2", 0, telemetry.GapImplausible},
		{"hwmon/thinkpad_hwmon/thinkpad/temp4", 0, telemetry.GapImplausible},
		{"hwmon/thinkpad_hwmon/thinkpad/pwm1", 128 * 100.0 / 255, telemetry.Fresh},
	})
	keys := strings.Join(sourcetest.Keys(inv), "\n")
	for text, why := range map[string]string{
		"int3400": "a constant of 20 °C", "zone/bat0": "the battery's zone repeats its hwmon",
		"/acpitz/temp": "the hwmon of a zone repeats the zone", "AC0": "an hwmon with a name only",
		"hwmon10": "a number of probe order", "nvme0": "a number of probe order",
	} {
		if strings.Contains(keys, text) {
			t.Errorf("a key holds %q: %s\n%s", text, why, keys)
		}
	}
}

func TestRolesAndPaces(t *testing.T) {
	inv := open(t, rawfstest.Unpack(t, "intel-notebook"))
	var all []telemetry.Channel
	for _, g := range inv.Groups {
		all = append(all, g.Channels...)
		fast := g.Name == "coretemp" || g.Name == "zone x86_pkg_temp"
		if g.Slow == fast {
			t.Errorf("group %s: slow %v", g.Name, g.Slow)
		}
		if g.Name == "nvme" && g.Every != 10*time.Second {
			t.Errorf("nvme is read every %v; each read is an admin command to the disk", g.Every)
		}
	}
	all, err := telemetry.Resolve(all, nil)
	if err != nil {
		t.Fatal(err)
	}
	if die := all[telemetry.IndexOf(all, telemetry.RoleDie)]; die.Key != "hwmon/zone/x86-pkg-temp" || die.Refresh != 0 {
		t.Errorf("die is %q, refresh %v; want the package sensor that is read anew each time", die.Key, die.Refresh)
	}
	cores := 0
	for _, c := range all {
		if c.Role == telemetry.RoleCore {
			cores++
			if c.Refresh != time.Second {
				t.Errorf("%s: refresh %v, coretemp caches for 1 s", c.Key, c.Refresh)
			}
		}
	}
	if cores != 4 {
		t.Errorf("%d core temperatures, want 4", cores)
	}
}

func TestDesktop(t *testing.T) {
	inv := open(t, rawfstest.Unpack(t, "amd-desktop"))
	check(t, inv, []want{
		{"hwmon/0000:00:18.3/k10temp/temp1", 71.25, telemetry.Fresh},
		{"hwmon/0000:03:00.0/amdgpu/temp1", 0, telemetry.GapAsleep},
		{"hwmon/0000:03:00.0/amdgpu/power1_average", 0, telemetry.GapAsleep},
		{"hwmon/0000:01:00.0/nvme/temp1", 41.85, telemetry.Fresh},
		{"hwmon/0000:05:00.0/nvme/temp1", 42.85, telemetry.Fresh},
		{"hwmon/0000:00:14.0/smbus-piix4-adapter-port-0-at-0b00/i2c-0018/jc42/temp1", 39.25, telemetry.Fresh},
		{"hwmon/0000:00:14.0/smbus-piix4-adapter-port-0-at-0b00/i2c-0019/jc42/temp1", 39.75, telemetry.Fresh},
		{"hwmon/nct6775.656/nct6798/temp2:cputin", 38.5, telemetry.Fresh},
		{"hwmon/nct6775.656/nct6798/temp3:auxtin0", 0, telemetry.GapDisabled},       // temp3_enable 0
		{"hwmon/nct6775.656/nct6798/temp4:auxtin1", 0, telemetry.GapImplausible},    // 127.5 °C
		{"hwmon/nct6775.656/nct6798/temp5:pch-chip-temp", 0, telemetry.GapDisabled}, // temp5_fault 1
		{"hwmon/nct6775.656/nct6798/temp6:auxtin3", 0, telemetry.GapImplausible},    // -128 °C
		{"hwmon/nct6775.656/nct6798/fan3", 0, telemetry.Fresh},                      // a fan may stand still
		{"hwmon/nct6775.656/nct6798/fan4", 0, telemetry.GapImplausible},
		{"hwmon/nct6775.656/nct6798/in0", 1.416, telemetry.Fresh},
	})
	if c := sourcetest.Channel(t, inv, "hwmon/0000:05:00.0/nvme/temp1"); !strings.Contains(c.Name, "0000:05:00.0") {
		t.Errorf("one of two disks is called %q, which does not say which", c.Name)
	}
	if c := sourcetest.Channel(t, inv, "hwmon/0000:00:14.0/smbus-piix4-adapter-port-0-at-0b00/i2c-0019/jc42/temp1"); c.Name != "jc42 i2c-0019 temp1" {
		t.Errorf("one of two memory sensors is called %q", c.Name)
	}
}

// The sleeping card wakes, is read, sleeps again; it keeps its keys all the while, and
// none of its files is touched while it sleeps.
func TestSleepingDeviceIsLeftAsleep(t *testing.T) {
	m := rawfstest.Unpack(t, "amd-desktop")
	const status = "sys/devices/pci0000:00/0000:00:01.1/0000:03:00.0/power/runtime_status"
	dir := "sys/class/hwmon/hwmon3/"
	asleep := true
	tree := rawfs.At(m.Root).WithHook(func(op rawfs.Op, path string) error {
		if asleep && op == rawfs.OpRead && strings.HasPrefix(path, dir) && !strings.HasSuffix(path, "/name") {
			t.Errorf("read of %s while the device sleeps", path)
		}
		return nil
	})
	inv := New(tree).Open(context.Background())
	defer sourcetest.Close(t, inv)
	const key = "hwmon/0000:03:00.0/amdgpu/temp2"
	check(t, inv, []want{{key, 0, telemetry.GapAsleep}})
	keys := strings.Join(sourcetest.Keys(inv), " ")
	asleep = false
	m.Write(status, "active\n")
	check(t, inv, []want{{key, 47, telemetry.Fresh}})
	again := open(t, m)
	if k := strings.Join(sourcetest.Keys(again), " "); k != keys {
		t.Errorf("awake, the keys differ:\nasleep %s\n awake %s", keys, k)
	}
	m.Write(status, "suspended\n")
	asleep = true
	check(t, inv, []want{{key, 0, telemetry.GapAsleep}})
}

func TestFailingBoard(t *testing.T) {
	m := rawfstest.Unpack(t, "failing-board")
	inv := open(t, m)
	const ec = "hwmon/asus-ec-sensors/asusec/"
	check(t, inv, []want{
		{ec + "temp2:cpu", 42, telemetry.Fresh},
		{"hwmon/ACPI000D:00/power-meter/power1_average", 21.08, telemetry.Fresh}, // old layout
		{"hwmon/0000:00:1f.4/smbus-i801-adapter-at-efa0/i2c-002e/lm85c/temp2", 0, telemetry.GapImplausible},
		{"hwmon/0000:00:1f.4/smbus-i801-adapter-at-efa0/i2c-002e/lm85c/temp3", 31, telemetry.Fresh},
		{"hwmon/coretemp.0/coretemp/temp2:core-0", 0, telemetry.GapImplausible}, // 0 °C beside 48 °C
		{"hwmon/coretemp.0/coretemp/temp1:package-id-0", 48, telemetry.Fresh},
	})
	fails := map[string]error{"temp1_input": unix.EIO, "temp2_input": unix.ETIMEDOUT, "temp3_input": unix.ENODATA, "fan1_input": unix.ENXIO}
	for file, errno := range fails {
		m.Fail(rawfs.OpRead, "sys/class/hwmon/hwmon0/"+file, errno)
	}
	m.Fail(rawfs.OpRead, "sys/class/hwmon/hwmon3/temp1_input", unix.EAGAIN)
	m.Fail(rawfs.OpRead, "sys/class/hwmon/hwmon2/temp1_input", unix.ENODEV)
	check(t, inv, []want{
		{ec + "temp1:chipset", 0, telemetry.GapIO},
		{ec + "temp2:cpu", 0, telemetry.GapIO},
		{ec + "temp3:motherboard", 0, telemetry.GapDisabled},
		{ec + "temp4:vrm", 44, telemetry.Fresh}, // its neighbours do not hide it
		{ec + "fan1:chipset", 0, telemetry.GapDisabled},
		{ec + "in0:cpu-core", 1.1, telemetry.Fresh},
		{"hwmon/0000:00:1f.4/smbus-i801-adapter-at-efa0/i2c-0048/tmp102/temp1", 0, telemetry.GapNotReady},
		{"hwmon/0000:00:1f.4/smbus-i801-adapter-at-efa0/i2c-002e/lm85c/temp1", 0, telemetry.GapGone},
	})
	for file := range fails {
		m.Fail(rawfs.OpRead, "sys/class/hwmon/hwmon0/"+file, nil)
	}
	check(t, inv, []want{{ec + "temp1:chipset", 41, telemetry.Fresh}})
}

func TestRefusedFileIsMissingWithReason(t *testing.T) {
	m := rawfstest.Unpack(t, "intel-notebook")
	m.Fail(rawfs.OpOpen, "sys/class/thermal/thermal_zone2/temp", unix.EACCES)
	inv := open(t, m)
	if len(inv.Missing) != 1 || inv.Missing[0].Role != telemetry.RoleDie ||
		inv.Missing[0].Reason != "open "+m.Root+"/sys/class/thermal/thermal_zone2/temp: permission denied" {
		t.Errorf("missing: %+v", inv.Missing)
	}
}

func TestNothingHere(t *testing.T) {
	inv := open(t, rawfstest.Unpack(t, "no-sensors"))
	if inv.Status != telemetry.NotHere || inv.Reason == "" {
		t.Errorf("status %s, reason %q; want not here, with a reason", inv.Status, inv.Reason)
	}
}

func TestLimitsThatAreNoneAreDropped(t *testing.T) {
	inv := open(t, rawfstest.Unpack(t, "intel-notebook"))
	found := false
	for _, s := range inv.Conditions {
		if strings.Contains(s.Key, "Core ") {
			t.Errorf("condition %+v repeats the package's limit", s)
		}
		if strings.Contains(s.Value, "65261") || strings.Contains(s.Value, "-273") {
			t.Errorf("condition %+v is an unset register", s)
		}
		found = found || s == telemetry.Setting{Key: "critical temperature, nvme Composite", Value: "99.85 °C"}
	}
	if !found {
		t.Errorf("no critical temperature of the disk among %+v", inv.Conditions)
	}
	if c := sourcetest.Channel(t, inv, "hwmon/coretemp.0/coretemp/temp1:package-id-0/limit"); c.Role != telemetry.RoleThermalLimit || c.Quantity != quantity.Temperature {
		t.Errorf("limit channel: %+v", c)
	}
}

// Two chips of one name at the same address of two buses: only the whole id tells them
// apart.
func TestTitles(t *testing.T) {
	chips := []*chip{{name: "lm75", id: "bus-a/i2c-0048"}, {name: "lm75", id: "bus-b/i2c-0048"}, {name: "lm75", id: "bus-b/i2c-0049"}, {name: "k10temp", id: "0000:00:18.3"}}
	entitle(chips)
	for i, want := range []string{"lm75 bus-a/i2c-0048", "lm75 bus-b/i2c-0048", "lm75 i2c-0049", "k10temp"} {
		if chips[i].title != want {
			t.Errorf("%s at %s is titled %q, want %q", chips[i].name, chips[i].id, chips[i].title, want)
		}
	}
}
