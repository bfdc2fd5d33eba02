package host

import (
	"context"
	"math"
	"slices"
	"testing"

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
	t.Run("this machine", func(t *testing.T) {
		sourcetest.Check(t, func() telemetry.Source { return New(rawfs.At("/")) })
	})
}

func TestLoadAndMemory(t *testing.T) {
	m := rawfstest.Unpack(t, "no-sensors")
	inv := New(m.Tree()).Open(context.Background())
	defer sourcetest.Close(t, inv)
	got := sourcetest.Read(inv, 0)
	if got["host/load"].State != telemetry.NoData {
		t.Errorf("load at the first read: %+v; one reading makes no share", got["host/load"])
	}
	if r := got["host/memory"]; math.Abs(r.Value-25) > 1e-9 { // 12 of 16 GB available
		t.Errorf("memory in use %+v, want 25 %%", r)
	}
	m.Write("proc/stat", "cpu  2150 0 400 17640 10 0 0 0 0 0\n") // 150 busy of 200 ticks
	if r := sourcetest.Read(inv, 0)["host/load"]; math.Abs(r.Value-75) > 1e-9 || r.State != telemetry.Fresh {
		t.Errorf("load %+v, want 75 %%", r)
	}
	if r := sourcetest.Read(inv, 0)["host/load"]; r.Value != 75 || r.State != telemetry.Held {
		t.Errorf("no tick later: %+v, want 75 %% held", r)
	}
	m.Write("proc/stat", "rubbish\n")
	if r := sourcetest.Read(inv, 0)["host/load"]; r.State != telemetry.GapUnreadable {
		t.Errorf("rubbish: %+v", r)
	}
}

func TestIdentity(t *testing.T) {
	inv := New(rawfstest.Unpack(t, "intel-notebook").Tree()).Open(context.Background())
	defer sourcetest.Close(t, inv)
	want := []telemetry.Setting{{Key: "host", Value: "bench-1"}, {Key: "kernel", Value: "6.1.0-56-amd64"},
		{Key: "processor", Value: "Four-core notebook processor"}, {Key: "microcode", Value: "0xa4"}, {Key: "processors", Value: "8"},
		{Key: "product", Value: "Notebook 14"}, {Key: "firmware", Value: "1.07"}}
	if !slices.Equal(inv.Conditions, want) {
		t.Errorf("conditions\n got %+v\nwant %+v", inv.Conditions, want)
	}
}

func TestParseMeminfo(t *testing.T) {
	for text, want := range map[string]float64{
		"MemTotal:       1000 kB\nMemFree: 1 kB\nMemAvailable:    400 kB\n": 60,
		"MemTotal: 1000 kB\nMemAvailable: 1000 kB":                          0,
	} {
		if got, ok := parseMeminfo([]byte(text)); !ok || math.Abs(got-want) > 1e-9 {
			t.Errorf("parseMeminfo(%q) = %v, %v; want %v", text, got, ok, want)
		}
	}
	for text, why := range map[string]string{
		"":                                       "nothing",
		"MemTotal: 1000 kB\n":                    "kernels before 3.14 have no MemAvailable",
		"MemTotal: 0 kB\nMemAvailable: 0 kB\n":   "no memory at all",
		"MemTotal: 10 kB\nMemAvailable: 20 kB\n": "more available than there is",
		"MemTotal: x kB\nMemAvailable: 2 kB\n":   "no number",
		"MemTotal: 10 MB\nMemAvailable: 2 kB\n":  "another unit",
	} {
		if got, ok := parseMeminfo([]byte(text)); ok {
			t.Errorf("parseMeminfo(%q) = %v: %s", text, got, why)
		}
	}
}

func FuzzParseMeminfo(f *testing.F) {
	f.Add([]byte("MemTotal: 1000 kB\nMemAvailable: 400 kB\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		if used, ok := parseMeminfo(b); ok && (used < 0 || used > 100) {
			t.Errorf("%q: %v %%", b, used)
		}
	})
}
