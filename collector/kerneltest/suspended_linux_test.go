package kerneltest

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"soakline/collector/kerneltest/guest"
	"soakline/collector/telemetry"
)

// TestSuspend: the machine really sleeps for four seconds under a recording. The gap is
// told as a sleep, and every channel comes back. Waking resets the emulated machine, which
// takes the compressed kernel.
func TestSuspend(t *testing.T) {
	guest.Need(t)
	k := guest.Fetch(t)
	began := time.Now()
	args := append(benchArgs(t), "-global", "ICH9-LPC.disable_s3=0")
	lines, kill := guest.Machine{Kernel: k.Packed, Initrd: k.Initrd(t, "battery", "ac", "acpi_power_meter", "acpi-cpufreq", "rtc-cmos"), CPU: processor, Memory: 256,
		Words: "t.mode=suspend", Args: args, Reboots: true, Limit: bootLimit}.Start(t)
	h := listen(t, lines, nil)
	kill()
	f := h.fact("slept")
	monotonic, _ := strconv.ParseFloat(f[0], 64)
	boot, _ := strconv.ParseFloat(f[1], 64)
	if boot-monotonic < 2 || boot-monotonic > 20 {
		t.Fatalf("the clock that counts through sleep went on by %s s, the other by %s s", f[1], f[0])
	}
	t.Logf("%.0f s, asleep for %.2f s, marked %q", time.Since(began).Seconds(), boot-monotonic, h.marks["woken"])
	if marks := h.marks["woken"]; len(marks) != 1 || !strings.Contains(marks[0], "suspended for") {
		t.Errorf("marks %q, want one that says so", marks)
	}
	for key := range h.channels {
		before, after := h.seen["awake"][key], h.seen["woken"][key]
		if !strings.Contains(" "+after.gaps, " "+code(telemetry.GapSuspended)+":") {
			t.Errorf("%s: gaps %q, want one for the sleep", key, after.gaps)
		}
		if before.state.Usable() && !after.state.Usable() {
			t.Errorf("%s: %+v before, %+v after", key, before, after)
		}
	}
}
