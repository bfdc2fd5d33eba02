package cpufreq

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

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

// Two processors: one busy nine tenths of the time at 3000 MHz, one a tenth at 1000.
func TestBusyMean(t *testing.T) {
	m := rawfstest.FromText(t, `made for this test
-- proc/stat --
cpu  0 0 0 0 0 0 0 0 0 0
cpu0 100 0 0 900 0 0 0 0 0 0
cpu1 100 0 0 900 0 0 0 0 0 0
-- sys/devices/system/cpu/cpufreq/policy0/affected_cpus --
0
-- sys/devices/system/cpu/cpufreq/policy0/scaling_cur_freq --
3000000
-- sys/devices/system/cpu/cpufreq/policy1/affected_cpus --
1
-- sys/devices/system/cpu/cpufreq/policy1/scaling_cur_freq --
1000000
`)
	inv := New(m.Tree()).Open(context.Background())
	defer sourcetest.Close(t, inv)
	sourcetest.Read(inv, 0)
	m.Write("proc/stat", "cpu  0 0 0 0 0 0 0 0 0 0\ncpu0 160 20 10 905 5 0 0 0 50 0\ncpu1 110 0 0 980 10 0 0 0 0 0\n")
	got := sourcetest.Read(inv, 100*time.Millisecond)
	if r := got["cpufreq/busy-mean"]; math.Abs(r.Value-(3000*0.9+1000*0.1)) > 1e-9 {
		t.Errorf("busy mean %+v, want 2800 MHz", r)
	}
	if r := got["cpufreq/highest"]; r.Value != 3000 {
		t.Errorf("highest %+v, want 3000 MHz", r)
	}
	m.Fail(rawfs.OpRead, "sys/devices/system/cpu/cpufreq/policy0/scaling_cur_freq", unix.EAGAIN)
	m.Write("sys/devices/system/cpu/cpufreq/policy1/scaling_cur_freq", "<unknown>\n")
	got = sourcetest.Read(inv, 200*time.Millisecond)
	for key, want := range map[string]telemetry.State{"cpufreq/policy0": telemetry.GapNotReady,
		"cpufreq/policy1": telemetry.GapUnreadable, "cpufreq/busy-mean": telemetry.GapNotReady} {
		if got[key].State != want {
			t.Errorf("%s: %+v, want state %d", key, got[key], want)
		}
	}
}

func TestConditions(t *testing.T) {
	inv := New(rawfstest.Unpack(t, "intel-notebook").Tree()).Open(context.Background())
	defer sourcetest.Close(t, inv)
	want := []telemetry.Setting{{Key: "clock driver", Value: "intel_pstate"}, {Key: "clock governor", Value: "powersave"},
		{Key: "energy preference", Value: "balance_performance"}, {Key: "highest clock of the hardware", Value: "4200 MHz"},
		{Key: "turbo", Value: "allowed"}, {Key: "highest performance", Value: "100 %"}}
	if !slices.Equal(inv.Conditions, want) {
		t.Errorf("conditions\n got %+v\nwant %+v", inv.Conditions, want)
	}
	if inv.Groups[0].Every != 0 {
		t.Errorf("on 6.1 the clocks are read every %v, want every tick", inv.Groups[0].Every)
	}
}
