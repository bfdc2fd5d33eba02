package kerneltest

import (
	"slices"
	"strings"
	"testing"

	"soakline/collector/rawfs"
	"soakline/collector/telemetry"
)

// testTraps: what a tree of files made by hand would not have shown.
func (h *heard) testTraps(t *testing.T) {
	for _, c := range []struct {
		name, what string
		state      telemetry.State
		value      string
	}{
		{"a zone's tunable gives EIO", "zone tunable", telemetry.GapIO, "0"},
		{"text in place of a number", "unsupported", telemetry.GapUnreadable, "0"},
		{"a share with a unit is no number", "accuracy", telemetry.GapUnreadable, "0"},
		{"a file for writing alone refuses root too", "write only", telemetry.GapDenied, "0"},
		{"a file without text", "empty", telemetry.GapEmpty, "0"},
		{"a fan's minimum of -1", "fan minimum", telemetry.Fresh, "-1"},
		{"an open diode reads -127.999 degrees", "diode", telemetry.Fresh, "-127999"},
		{"and its fault flag says nothing", "diode fault", telemetry.Fresh, "0"},
		{"a disk's unset minimum is 0 K", "disk minimum", telemetry.Fresh, "-273150"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if f := h.fact("file", c.what); f[0] != code(c.state) || f[1] != c.value {
				t.Errorf("%s: state %s, value %s; want %s (%s), %s", f[2], f[0], f[1], code(c.state), c.state.Reason(), c.value)
			}
		})
	}
	t.Run("open diode and absent fan become gaps", h.testGaps)
	t.Run("the first conversion is not waited for", h.testNotReady)
	t.Run("ten comes after two", h.testOrder)
	t.Run("power meter in the old layout", h.testOldLayout)
	t.Run("one battery, four entries", h.testBattery)
	t.Run("a chip with a name only", h.testNameOnly)
}

func (h *heard) testGaps(t *testing.T) {
	for _, key := range []string{stub + "i2c-002e/lm85c/temp3", stub + "i2c-002e/lm85c/fan4"} {
		for _, phase := range []string{"steady", "moved"} {
			if f, ok := h.seen[phase][key]; !ok || f.state != telemetry.GapImplausible || f.fresh > 0 {
				t.Errorf("%s, %s: %+v", key, phase, f)
			}
		}
	}
	for key := range h.settings {
		if strings.Contains(key, "minimum") || strings.Contains(h.settings[key], "-273") {
			t.Errorf("condition %s = %s", key, h.settings[key])
		}
	}
}

// testNotReady: EAGAIN comes at once as a gap; the value follows after the conversion.
func (h *heard) testNotReady(t *testing.T) {
	f := h.fact("not ready")
	if f[0] != code(telemetry.GapNotReady) || f[2] != code(telemetry.Fresh) || f[3] != "40000" {
		t.Errorf("before the first conversion state %s, then %s with %s m°C", f[0], f[2], f[3])
	}
	t.Logf("our read came back after %s s, the value after %s s; the standard library's read %q within 1 s more", f[1], f[4], h.fact("library")[0])
}

func (h *heard) testOrder(t *testing.T) {
	names := strings.Fields(h.fact("order")[0])
	if len(names) < 11 || !slices.IsSortedFunc(names, rawfs.Natural) || slices.Index(names, "hwmon2") > slices.Index(names, "hwmon10") {
		t.Errorf("chips in the order %q, want eleven or more by number", names)
	}
}

// chipAt gives the lines "chip": entry, name, real path, files.
func (h *heard) chipAt(part string) [][]string {
	var all [][]string
	for _, f := range h.facts {
		if f[0] == "chip" && strings.Contains(f[3], part) {
			all = append(all, f)
		}
	}
	return all
}

func (h *heard) testOldLayout(t *testing.T) {
	c := h.chipAt("ACPI000D")
	if len(c) != 1 || c[0][2] != "" {
		t.Fatalf("the kernel shows %q, want one chip without a name", c)
	}
	if f := h.seen["steady"]["hwmon/ACPI000D:00/power-meter/power1_average"]; !f.state.Usable() {
		t.Errorf("%+v", f)
	}
}

// testBattery: the pack's supply makes an hwmon, a zone and that zone's hwmon; the last
// two say nothing new.
func (h *heard) testBattery(t *testing.T) {
	var names []string
	for _, c := range append(h.chipAt("sbs"), h.chipAt("thermal_zone1")...) {
		names = append(names, c[2])
	}
	if !slices.Equal(names, []string{"sbs_0_000b", "sbs_0_000b"}) || h.fact("zone", "thermal_zone1")[0] != "sbs-0-000b" {
		t.Fatalf("the kernel shows %q", names)
	}
	temperatures := 0
	for key, c := range h.channels {
		if strings.Contains(key, "sbs") && c[0] == "temperature" {
			temperatures++
		}
		if strings.Contains(key, "sbs-0-") {
			t.Errorf("%s holds the number of the bus", key)
		}
	}
	if temperatures != 1 {
		t.Errorf("one pack has %d temperatures", temperatures)
	}
}

func (h *heard) testNameOnly(t *testing.T) {
	if len(h.chipAt("power_supply/AC0")) != 1 {
		t.Fatal("the kernel shows no chip for the mains")
	}
	for key := range h.channels {
		if strings.HasPrefix(key, "hwmon/AC0") {
			t.Errorf("%s is there", key)
		}
	}
}

// testWithoutRights: user 65534 gets every channel but the registers, and is told why.
func (h *heard) testWithoutRights(t *testing.T) {
	for key, c := range h.channels {
		f, ok := h.without.seen["unprivileged"][key]
		if was := h.seen["returned"][key].state; c[2] != "msr" && (!ok || f.state.Usable() != was.Usable()) {
			t.Errorf("%s: there %v, state %d; for root state %d", key, ok, f.state, was)
		}
	}
	denied := false
	for _, m := range h.without.missing {
		denied = denied || m[1] == "msr" && strings.Contains(m[2], "permission denied") && m[3] != ""
	}
	if !denied {
		t.Errorf("missing without rights: %q", h.without.missing)
	}
}
