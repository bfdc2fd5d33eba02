package supply

import (
	"context"
	"math"
	"slices"
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

func TestNotebook(t *testing.T) {
	m := rawfstest.Unpack(t, "intel-notebook")
	inv := New(m.Tree()).Open(context.Background())
	defer sourcetest.Close(t, inv)
	expect := func(wants map[string]float64) {
		t.Helper()
		got := sourcetest.Read(inv, 0)
		for key, want := range wants {
			if r, ok := got[key]; !ok || math.Abs(r.Value-want) > 1e-9 {
				t.Errorf("%s = %+v (there: %v), want %v", key, r, ok, want)
			}
		}
	}
	expect(map[string]float64{"supply/BAT0/power": 21.3, "supply/BAT0/capacity": 87, "supply/BAT0/voltage": 16.12,
		"supply/BAT0/status": discharging, "supply/AC0/online": 0, "supply/platform-profile": 1, "supply/lid/LID0": 0})
	for _, key := range sourcetest.Keys(inv) {
		if strings.Contains(key, "hidpp") {
			t.Errorf("%s is the battery of a peripheral", key)
		}
	}
	want := []telemetry.Setting{{Key: "mains AC0", Value: "not connected"}, {Key: "battery BAT0", Value: "Discharging"},
		{Key: "platform profile", Value: "balanced"}, {Key: "lid", Value: "open"}}
	if !slices.Equal(inv.Conditions, want) {
		t.Errorf("conditions\n got %+v\nwant %+v", inv.Conditions, want)
	}
	m.Write(dir+"/BAT0/status", "Charging\n")
	m.Write(dir+"/AC0/online", "1\n")
	m.Write("proc/acpi/button/lid/LID0/state", "state:      closed\n")
	m.Write("sys/firmware/acpi/platform_profile", "custom\n")
	expect(map[string]float64{"supply/BAT0/power": -21.3, "supply/AC0/online": 1, "supply/lid/LID0": 1, "supply/platform-profile": 3})
	for _, g := range inv.Groups {
		if !g.Slow {
			t.Errorf("group %s goes through firmware and is not slow", g.Name)
		}
	}
}

// A pack that reports current and no power, with the current signed.
func TestPowerFromCurrent(t *testing.T) {
	m := rawfstest.Unpack(t, "failing-board")
	inv := New(m.Tree()).Open(context.Background())
	defer sourcetest.Close(t, inv)
	if r := sourcetest.Read(inv, 0)["supply/sbs-000b/power"]; math.Abs(r.Value-2.1*11.8) > 1e-9 {
		t.Errorf("power %+v, want 24.78 W out of the battery", r)
	}
	if r := sourcetest.Read(inv, 0)["supply/lid/LID"]; r.State != telemetry.GapUnreadable {
		t.Errorf("a lid that says unsupported: %+v", r)
	}
	m.Fail(rawfs.OpRead, dir+"/sbs-0-000b/voltage_now", unix.EREMOTEIO)
	if r := sourcetest.Read(inv, 0)["supply/sbs-000b/power"]; r.State != telemetry.GapIO {
		t.Errorf("without voltage: %+v, want a gap", r)
	}
}

func TestSign(t *testing.T) {
	r := func(v float64) telemetry.Reading { return telemetry.Reading{Value: v, State: telemetry.Fresh} }
	for _, c := range []struct {
		flow   float64
		status float64
		want   float64
		state  telemetry.State
	}{
		{20, discharging, 20, telemetry.Fresh}, {-20, discharging, 20, telemetry.Fresh}, {20, charging, -20, telemetry.Fresh},
		{0, full, 0, telemetry.Fresh}, {0, notCharging, 0, telemetry.Fresh},
		{3, full, 0, telemetry.GapUnreadable}, {3, 0, 0, telemetry.GapUnreadable},
	} {
		got := signed(r(c.flow), r(c.status))
		if got.State != c.state || c.state == telemetry.Fresh && got.Value != c.want {
			t.Errorf("%v W, %s: %+v, want %v W, state %d", c.flow, statuses[int(c.status)], got, c.want, c.state)
		}
	}
}

func TestParseLabel(t *testing.T) {
	labels := bytesOf([]string{"open", "closed"})
	for text, want := range map[string]telemetry.State{"open": telemetry.Fresh, "state:      closed\n": telemetry.Fresh, "": telemetry.GapEmpty,
		"state:": telemetry.GapEmpty, "ope": telemetry.GapUnreadable, "unsupported": telemetry.GapUnreadable} {
		if _, got := parseLabel([]byte(text), labels); got != want {
			t.Errorf("parseLabel(%q): state %d, want %d", text, got, want)
		}
	}
}

func FuzzParseLabel(f *testing.F) {
	f.Add([]byte("state: open"))
	f.Add([]byte("\xff\x00"))
	f.Fuzz(func(t *testing.T, b []byte) {
		if i, s := parseLabel(b, bytesOf(statuses)); i < 0 || i >= len(statuses) || s == telemetry.Fresh && !strings.Contains(string(b), statuses[i]) {
			t.Errorf("%q reads as %d, state %d", b, i, s)
		}
	})
}

// A key outlives a bus that comes up under another number, and two packs stay two.
func TestNameWithoutBus(t *testing.T) {
	times := map[string]int{}
	for _, c := range []struct{ id, want string }{
		{"sbs-7-000b", "sbs-000b"}, {"sbs-9-000b", "sbs-000b#2"}, {"BAT0", "BAT0"}, {"BAT1", "BAT1"},
	} {
		if got := steadyName(c.id, times); got != c.want {
			t.Errorf("%s is called %s, want %s", c.id, got, c.want)
		}
	}
}
