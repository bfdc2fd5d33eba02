package kerneltest

import (
	"math"
	"strings"
	"testing"

	"soakline/collector/telemetry"
)

const zone = "powercap/intel-rapl/package-0/"

// testEnergy: ten seconds and more in which the counter starts again from 0.
// shares says what part of the package's energy each zone has.
func (h *heard) testEnergy(t *testing.T, shares map[string]float64) {
	really := h.seen["watch"][trueEnergy]
	if really.before > beforeWrap-20 || really.last < beforeWrap+20 {
		t.Fatalf("from %.0f J to %.0f J the counter does not wrap at %d J", really.before, really.last, beforeWrap)
	}
	for key, share := range shares {
		real := (really.last - really.before) * share
		f, p := h.seen["watch"][key+"energy"], h.seen["watch"][key+"power"]
		if d := f.last - f.before; math.Abs(d/real-1) > 0.01 || !onlyLate(f.gaps) {
			t.Errorf("%s: %.2f J watched, %.2f J flowed; gaps %q", key, d, real, f.gaps)
		}
		// A host that is busy moves the counter unevenly: single powers scatter, their sum does not.
		if f.gaps == "" && (math.Abs(p.integral/real-1) > 0.02 || p.fresh < 70) || p.low > 40*share || p.high < 50*share {
			t.Errorf("%s: power over time makes %.2f J of %.2f J, %+v", key, p.integral, real, p)
		}
		t.Logf("%-38s flowed %.2f J, counted %.2f J, power over time %.2f J, gaps %q", key, real, f.last-f.before, p.integral, f.gaps)
	}
}

// onlyLate is true where all gaps are reads that a busy host did not let come back in time.
func onlyLate(gaps string) bool {
	for _, g := range strings.Fields(gaps) {
		if !strings.HasPrefix(g, code(telemetry.GapTimeout)+":") {
			return false
		}
	}
	return true
}

// testRegisterValues: what stands in the registers, by the kernel's drivers and by our
// own reading of them. The kernel cuts the unit of time to 976 µs: 0.1 % less.
func (h *heard) testRegisterValues(t *testing.T) {
	own := "msr/package-0/"
	for _, c := range []struct {
		key         string
		first, last float64
	}{
		{zone + "long-term-limit", 15, 20}, {zone + "short-term-limit", 44, 44},
		{zone + "long-term-window", 28 * 0.976 / 0.9765625, 28 * 0.976 / 0.9765625}, {zone + "short-term-window", 0.00244, 0.00244},
		{own + "long-term-limit", 15, 20}, {own + "short-term-limit", 44, 44},
		{own + "long-term-window", 28, 28}, {own + "short-term-window", 2.5 / 1024, 2.5 / 1024},
		{own + "thermal-limit", 100, 100}, {"hwmon/coretemp.0/coretemp/temp1:package-id-0/limit", 100, 100},
		{own + "reasons", 1 << 10, 1 << 11}, {own + "thermal-status", 0, 0},
		{"throttle/package-0/episodes", 0, 0}, {"throttle/package-0/time", 0, 0},
		{"throttle/package-0-core-0/episodes", 0, 0}, {"throttle/package-0-core-0/time", 0, 0},
	} {
		a, b := h.seen["watch"][c.key], h.seen["still"][c.key]
		if !a.state.Usable() || !b.state.Usable() || math.Abs(a.last-c.first) > 1e-4 || math.Abs(b.last-c.last) > 1e-4 || a.low != a.high {
			t.Errorf("%s: %+v then %+v, set %v then %v", c.key, a, b, c.first, c.last)
		}
		t.Logf("%-52s set %.6g then %.6g, read %.6g then %.6g", c.key, c.first, c.last, a.last, b.last)
	}
}

// testFollowing: temperatures that rise by 1 K a second, then stand; a reason that came
// and went between two reads; the time at the limit; the clock.
func (h *heard) testFollowing(t *testing.T) {
	for key, changes := range map[string]int{"hwmon/zone/x86-pkg-temp": 9, "msr/package-0/temperature": 9,
		"hwmon/coretemp.0/coretemp/temp1:package-id-0": 5, "hwmon/coretemp.0/coretemp/temp2:core-0": 5} { // the driver caches for 1 s
		a, b := h.seen["watch"][key], h.seen["still"][key]
		if a.changes < changes || a.low < 60 || a.high > 79 || a.high-a.low < 8 || b.last != 72 {
			t.Errorf("%s: %+v then %+v, set 60 to 79 °C rising, then 72 °C", key, a, b)
		}
		t.Logf("%-52s set 60..79 rising then 72, read %g..%g in %d steps then %g", key, a.low, a.high, a.changes, b.last)
	}
	if f := h.seen["still"]["msr/package-0/reasons"]; f.high != 1<<11|1<<1 {
		t.Errorf("a reason that came and went: %+v", f)
	}
	f := h.seen["watch"]["msr/package-0/limited-time"]
	if d := f.last - f.before; d < 5 || d > 6.5 {
		t.Errorf("time at the limit: %.2f s of 11 s, set half", d)
	}
	if c := h.seen["watch"]["cpufreq/policy0"]; c.low < 400 || c.high > 5300 || c.changes < 2 {
		t.Errorf("the clock by APERF and MPERF: %+v", c)
	}
}

func (h *heard) testRegisterRoles(t *testing.T) {
	for key, role := range map[string]string{"hwmon/zone/x86-pkg-temp": "die", "hwmon/coretemp.0/coretemp/temp2:core-0": "core temperature",
		"hwmon/coretemp.0/coretemp/temp1:package-id-0": "", "hwmon/coretemp.0/coretemp/temp1:package-id-0/limit": "thermal limit",
		zone + "power": "package power", zone + "energy": "package energy", zone + "core/power": "", zone + "long-term-limit": "long-term limit",
		zone + "short-term-limit": "short-term limit", zone + "long-term-window": "limit window", "msr/package-0/reasons": "reasons",
		"msr/package-0/temperature": "", "throttle/package-0/episodes": "thermal hits", "cpufreq/busy-mean": "core clock"} {
		if c := h.channels[key]; len(c) == 0 || c[1] != role {
			t.Errorf("%s is %q, want role %q", key, c, role)
		}
	}
	if _, there := h.channels["msr/package-0/energy"]; there {
		t.Error("the energy register is shown beside the same counter of powercap")
	}
}

func (h *heard) testRegisterTraps(t *testing.T) {
	t.Run("a constraint gives ENODATA", func(t *testing.T) {
		if f := h.fact("file", "constraint"); f[0] != code(telemetry.GapDisabled) {
			t.Errorf("state %s", f[0])
		}
		for key := range h.channels {
			if strings.HasPrefix(key, zone+"core/") && strings.Contains(key, "limit") {
				t.Errorf("%s: the kernel has no such limit", key)
			}
		}
	})
	t.Run("an unset trip is -274 degrees", func(t *testing.T) {
		if v := h.fact("trip")[0]; v != "-274000" {
			t.Errorf("the kernel's trip is %s", v)
		}
		for key, value := range h.settings {
			if strings.Contains(value, "-274") {
				t.Errorf("condition %s = %s", key, value)
			}
		}
	})
	t.Run("energy is for root alone", func(t *testing.T) {
		if f := h.fact("file", "energy right"); f[2] != "-r--------" {
			t.Errorf("rights %s", f[2])
		}
	})
	t.Run("locked by nobody, driver named", func(t *testing.T) {
		if h.settings["package power limits locked"] != "no" || h.settings["clock driver"] != "intel_cpufreq" {
			t.Errorf("%q", h.settings)
		}
	})
}

// testRegistersWithoutRights: no energy and no registers, said with a remedy; limits and
// temperatures are there.
func (h *heard) testRegistersWithoutRights(t *testing.T) {
	for _, key := range []string{zone + "long-term-limit", zone + "short-term-limit", "hwmon/zone/x86-pkg-temp", "hwmon/coretemp.0/coretemp/temp1:package-id-0",
		"throttle/package-0/episodes", "cpufreq/busy-mean"} {
		if f, ok := h.without.seen["unprivileged"][key]; !ok || !f.state.Usable() {
			t.Errorf("%s: there %v, %+v", key, ok, f)
		}
	}
	if f := h.without.seen["unprivileged"][zone+"long-term-limit"]; f.last != 20 {
		t.Errorf("long-term limit %+v", f)
	}
	told := map[string]bool{}
	for _, m := range h.without.missing {
		if strings.Contains(m[2], "permission denied") && m[3] != "" {
			told[m[0]] = true
		}
	}
	for _, name := range []string{"package power", "package energy", "cores power", "graphics power", "package limit reasons"} {
		if !told[name] {
			t.Errorf("%s: nobody says that it is refused; missing %q", name, h.without.missing)
		}
	}
	for key := range h.without.channels {
		if strings.HasSuffix(key, "/energy") || strings.HasPrefix(key, "msr/") {
			t.Errorf("%s is there", key)
		}
	}
}
