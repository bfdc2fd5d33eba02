package kerneltest

import (
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"soakline/collector/kerneltest/guest"
	"soakline/collector/telemetry"
)

// bootLimit bounds one run of a guest, for a host that is busy.
const bootLimit = 3 * time.Minute

// processor is one of the sixth family with the model number of a chip whose registers the
// vendor's headers describe.
const processor = "qemu64,vendor=GenuineIntel,family=6,model=94,stepping=3"

var chips = []string{"i2c-dev", "i2c-stub " + chipAddresses, "lm75", "lm85", "ltc4215", "jc42", "tmp102", "sbs-battery", "nvme", "battery", "ac",
	"acpi_power_meter", "acpi-cpufreq", "msr"}

// benchArgs gives the emulated hardware that the firmware tables and drivers need.
func benchArgs(t *testing.T) []string {
	t.Helper()
	folder := t.TempDir()
	tables := exec.Command("iasl", "-p", filepath.Join(folder, "bench"), filepath.Join("testdata", "bench.dsl"))
	if out, err := tables.CombinedOutput(); err != nil {
		t.Fatalf("iasl (apt-get install --no-install-recommends acpica-tools): %v %s", err, out)
	}
	disk := filepath.Join(folder, "disk")
	if err := os.WriteFile(disk, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(disk, 64<<20); err != nil {
		t.Fatal(err)
	}
	return []string{"-acpitable", "file=" + filepath.Join(folder, "bench.aml"), "-chardev", "null,id=port", "-device", "isa-parallel,chardev=port",
		"-drive", "if=none,id=disk,format=raw,file=" + disk, "-device", "nvme,drive=disk,serial=BENCH0001"}
}

// TestSensors: every channel that the firmware tables and the chips offer is found under
// its key, with the value that was set, and follows when it is moved; each odd file and
// each real error becomes the gap that it stands for.
func TestSensors(t *testing.T) {
	guest.Need(t)
	k := guest.Fetch(t)
	began := time.Now()
	lines, kill := guest.Machine{Kernel: k.Image, Initrd: k.Initrd(t, chips...), CPU: processor, Memory: 256, Words: "t.mode=sensors",
		Args: benchArgs(t), Limit: bootLimit}.Start(t)
	h := listen(t, lines, nil)
	kill()
	t.Logf("%.0f s, %d channels", time.Since(began).Seconds(), len(h.channels))
	if h.end != "<nil>" || h.without == nil {
		t.Fatalf("the guest ended with %q", h.end)
	}
	t.Run("values", h.testValues)
	t.Run("moving", h.testMoving)
	t.Run("firmware cycle", h.testFirmwareCycle)
	t.Run("roles", h.testRoles)
	t.Run("chip removed and back", h.testReturn)
	t.Run("traps", h.testTraps)
	t.Run("without rights", h.testWithoutRights)
}

const stub = "hwmon/smbus-stub-driver/"

// set is what the registers and tables stand for: at first, and after the move by 7.
var set = []struct {
	key           string
	first, second float64
}{
	{stub + "i2c-0048/lm75/temp1", 42, 49},
	{stub + "i2c-0049/tmp102/temp1", 40, 47},
	{stub + "i2c-0018/jc42/temp1", 38.5, 45.5},
	{stub + "i2c-002e/lm85c/temp1", 55, 62},
	{stub + "i2c-002e/lm85c/temp2", 48, 48},
	{stub + "i2c-002e/lm85c/fan1", 900, 900},
	{stub + "i2c-002e/lm85c/fan2", 2860, 2860},
	{stub + "i2c-002e/lm85c/fan3", 0, 0}, // its register says that it stands still
	{stub + "i2c-002e/lm85c/in4", 12, 12},
	{stub + "i2c-002e/lm85c/pwm1", 100 * 128.0 / 255, 100 * 128.0 / 255},
	{stub + "i2c-0058/ltc4215/curr1", 3.775, 4.039}, // 151/4 mA a step
	{stub + "i2c-0058/ltc4215/in1", 9.519, 9.519},   // 60.25 mV a step
	{stub + "i2c-0058/ltc4215/in2", 9.075, 9.075},   // 60.5 mV a step
	{stub + "i2c-0058/ltc4215/power1", 3.775 * 9.519, 4.039 * 9.519},
	{stub + "i2c-000b/sbs-000b/curr1", -2.1, -2.8},
	{stub + "i2c-000b/sbs-000b/in0", 11.4, 11.4},
	{stub + "i2c-000b/sbs-000b/temp1:temp", 30.1, 30.1},
	{"supply/sbs-000b/power", 2.1 * 11.4, 2.8 * 11.4},
	{"supply/sbs-000b/capacity", 87, 87},
	{"supply/sbs-000b/voltage", 11.4, 11.4},
	{"supply/sbs-000b/status", 2, 2},
	{"supply/BAT0/capacity", 87, 87}, // 48 of 55 Wh
	{"supply/BAT0/voltage", 15.4, 15.4},
	{"supply/BAT0/status", 2, 2},
	{"supply/AC0/online", 1, 1},
	{"hwmon/BAT0/bat0/in0", 15.4, 15.4},
	{"hwmon/0000:00:01.0/nvme/temp1", 49.85, 49.85}, // the emulated disk's constant 323 K
}

func (h *heard) testValues(t *testing.T) {
	for _, s := range set {
		f, ok := h.seen["steady"][s.key]
		if !ok || !f.state.Usable() || math.Abs(f.last-s.first) > 0.0006 || f.low != f.high {
			t.Errorf("%s: there %v, read %+v, set %v", s.key, ok, f, s.first)
		}
		t.Logf("%-44s set %.5g read %.5g %s", s.key, s.first, f.last, h.channels[s.key])
	}
}

func (h *heard) testMoving(t *testing.T) {
	for _, s := range set {
		f := h.seen["moved"][s.key]
		changes := 1
		if s.first == s.second {
			changes = 0
		}
		if !f.state.Usable() || math.Abs(f.last-s.second) > 0.0006 || f.changes != changes && !(changes == 1 && f.changes == 2) {
			t.Errorf("%s: read %+v, set %v before and %v now", s.key, f, s.first, s.second)
		}
	}
	idle, busy := h.seen["steady"]["cpufreq/busy-mean"], h.seen["moved"]["cpufreq/busy-mean"]
	if idle.low != 800 || busy.last != 2601 || busy.high != 2601 || h.seen["moved"]["host/load"].last < 90 {
		t.Errorf("the clock idle %+v and under load %+v, the table has 800, 1800 and 2601 MHz", idle, busy)
	}
	t.Logf("clock: idle from %.0f MHz, under load %.0f MHz", idle.low, busy.last)
	if late := h.rows["steady"] + h.rows["moved"]; late < 60 {
		t.Errorf("%d rows in 11 s", late)
	}
}

// testFirmwareCycle: what the firmware's methods compute moves as they say.
func (h *heard) testFirmwareCycle(t *testing.T) {
	for _, key := range []string{"hwmon/ACPI000D:00/power-meter/power1_average", "supply/BAT0/power"} {
		a, b := h.seen["steady"][key], h.seen["moved"][key]
		low, high := min(a.low, b.low), max(a.high, b.high)
		if low < 15 || low > 15.08 || high < 44 || high > 44.08 || a.changes+b.changes < 5 {
			t.Errorf("%s: %+v then %+v, want 15 W and 44 W by turns with a ripple", key, a, b)
		}
		t.Logf("%-44s set 15.00..15.08 and 44.00..44.03 read %.3f..%.3f", key, low, high)
	}
	z := h.seen["moved"]["hwmon/zone/acpitz"]
	if z.low < 65 || z.high > 73.2 || z.changes < 2 {
		t.Errorf("the thermal zone %+v, want 65 to 73 °C rising", z)
	}
	t.Logf("%-44s set 65.05..73.0 read %.2f..%.2f", "hwmon/zone/acpitz", z.low, z.high)
}

func (h *heard) testRoles(t *testing.T) {
	for key, role := range map[string]string{"hwmon/zone/acpitz": "die", "cpufreq/busy-mean": "core clock", "host/load": "load",
		stub + "i2c-002e/lm85c/fan1": "fan", stub + "i2c-0048/lm75/temp1": "", "hwmon/0000:00:01.0/nvme/temp1": "", stub + "i2c-0058/ltc4215/power1": ""} {
		if c := h.channels[key]; len(c) == 0 || c[1] != role {
			t.Errorf("%s is %q, want role %q", key, c, role)
		}
	}
	for name, status := range map[string]string{"hwmon": "running", "cpufreq": "running", "supply": "running", "host": "running",
		"powercap": "not here", "throttle": "not here", "msr": "failed"} {
		if s := h.sources[name]; len(s) == 0 || s[0] != status {
			t.Errorf("source %s is %q, want %s", name, s, status)
		}
	}
}

// testReturn: a chip goes under open descriptors and comes back; the others go on.
func (h *heard) testReturn(t *testing.T) {
	key := set[0].key
	gone := code(telemetry.GapGone)
	if a, b := h.fact("gone")[0], h.fact("still gone")[0]; a != gone || b != gone {
		t.Errorf("the descriptor opened before gives state %s after removal and %s after the return, want %s", a, b, gone)
	}
	if f := h.seen["removed"][key]; f.state != telemetry.GapGone {
		t.Errorf("removed: %+v", f)
	}
	if f := h.seen["returned"][key]; !f.state.Usable() || f.last != 49 || f.fresh < 1 {
		t.Errorf("back under its key: %+v, want 49", f)
	}
	for phase, rows := range map[string]int{"removed": 20, "returned": 50} {
		if h.rows[phase] < rows {
			t.Errorf("%s: %d rows", phase, h.rows[phase])
		}
		if f := h.seen[phase][set[2].key]; !f.state.Usable() || f.last != 45.5 {
			t.Errorf("%s: a neighbour gives %+v", phase, f)
		}
	}
}

func code(s telemetry.State) string { return strconv.Itoa(int(s)) }
