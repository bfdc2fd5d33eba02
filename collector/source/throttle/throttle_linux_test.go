package throttle

import (
	"context"
	"strings"
	"testing"

	"golang.org/x/sys/unix"

	"soakline/collector/rawfs"
	"soakline/collector/rawfs/rawfstest"
	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

func TestContractOnEveryMachine(t *testing.T) {
	for _, name := range []string{"intel-notebook", "amd-desktop", "failing-board", "no-sensors"} {
		t.Run(name, func(t *testing.T) {
			m := rawfstest.Unpack(t, name)
			sourcetest.Check(t, func() telemetry.Source { return New(m.Tree()) })
		})
	}
}

// Eight threads of four cores in one package: one package, four cores, two files each.
func TestSiblingsAreNotRepeated(t *testing.T) {
	m := rawfstest.Unpack(t, "intel-notebook")
	inv := New(m.Tree()).Open(context.Background())
	defer sourcetest.Close(t, inv)
	if keys := sourcetest.Keys(inv); len(keys) != 2*(1+4) {
		t.Errorf("%d channels, want 10: %s", len(keys), strings.Join(keys, " "))
	}
	got := sourcetest.Read(inv, 0)
	for key, want := range map[string]float64{"throttle/package-0/episodes": 17, "throttle/package-0/time": 0.734,
		"throttle/package-0-core-2/episodes": 5, "throttle/package-0-core-2/time": 0.122} {
		if got[key].Value != want {
			t.Errorf("%s = %+v, want %v", key, got[key], want)
		}
	}
	if c := sourcetest.Channel(t, inv, "throttle/package-0/episodes"); c.Role != telemetry.RoleThermalHits {
		t.Errorf("package episodes have the role %q", c.Role)
	}
	// Suspend takes processors offline, and with them the files under open descriptors.
	m.Fail(rawfs.OpRead, dir+"/cpu2/thermal_throttle/core_throttle_count", unix.ENODEV)
	got = sourcetest.Read(inv, 0)
	if r := got["throttle/package-0-core-2/episodes"]; r.State != telemetry.GapGone {
		t.Errorf("a processor that went offline: %+v", r)
	}
	if r := got["throttle/package-0-core-3/episodes"]; r.Value != 6 {
		t.Errorf("its neighbour: %+v, want 6", r)
	}
}

func TestIsProcessor(t *testing.T) {
	for entry, want := range map[string]bool{"cpu0": true, "cpu12": true, "cpu": false, "cpufreq": false, "cpuidle": false, "cpu1x": false, "online": false} {
		if got := isProcessor(entry); got != want {
			t.Errorf("isProcessor(%q) = %v", entry, got)
		}
	}
}
