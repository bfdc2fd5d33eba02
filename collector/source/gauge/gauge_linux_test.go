package gauge

import (
	"math"
	"testing"

	"golang.org/x/sys/unix"

	"soakline/collector/rawfs"
	"soakline/collector/rawfs/rawfstest"
	"soakline/collector/telemetry"
)

const files = `made for this test
-- a --
0
-- b --
41000
-- c --
127500
-- fault --
0
-- enable --
1
-- status --
active
`

func open(t *testing.T, m *rawfstest.Machine, path string) *rawfs.File {
	t.Helper()
	f, err := m.Tree().Open(path)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// states reads r once and gives the states; a gap with a value fails the test.
func states(t *testing.T, r *Reader) []telemetry.State {
	t.Helper()
	out := make([]telemetry.Reading, len(r.Attrs))
	r.Read(0, out)
	var all []telemetry.State
	for i, o := range out {
		if o.State.Usable() == math.IsNaN(o.Value) {
			t.Errorf("attribute %d: %+v", i, o)
		}
		all = append(all, o.State)
	}
	return all
}

func TestReader(t *testing.T) {
	m := rawfstest.FromText(t, files)
	temp := func(path string) Attr {
		return Attr{File: open(t, m, path), Scale: 1e-3, Min: -55, Max: 126.9, Die: true}
	}
	r := &Reader{Attrs: []Attr{temp("a"), temp("b"), temp("c")}, Awake: open(t, m, "status")}
	r.Attrs[1].Gates = []Gate{{open(t, m, "fault"), 1}, {open(t, m, "enable"), 0}}
	defer r.Close()
	expect := func(why string, want ...telemetry.State) {
		t.Helper()
		got := states(t, r)
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("%s: attribute %d has state %d, want %d", why, i, got[i], want[i])
			}
		}
	}
	const ok, bad, off, asleep = telemetry.Fresh, telemetry.GapImplausible, telemetry.GapDisabled, telemetry.GapAsleep
	expect("0 °C beside 41 °C, and 127.5 °C", bad, ok, bad)
	m.Write("b", "4000\n")
	expect("0 °C beside 4 °C", ok, ok, bad)
	m.Write("fault", "1\n")
	expect("fault flag set", ok, off, bad)
	m.Write("fault", "0\n")
	m.Write("enable", "0\n")
	expect("switched off", ok, off, bad)
	m.Fail(rawfs.OpRead, "enable", unix.EIO)
	expect("a flag that cannot be read hides nothing", ok, ok, bad)
	m.Write("status", "suspended\n")
	expect("asleep", asleep, asleep, asleep)
	m.Fail(rawfs.OpRead, "status", unix.ENODEV)
	expect("a status that cannot be read", asleep, asleep, asleep)
}

func TestScale(t *testing.T) {
	m := rawfstest.FromText(t, files)
	for _, c := range []struct {
		scale, want float64
	}{{0, 41000}, {1, 41000}, {1e-3, 41}} {
		a := Attr{File: open(t, m, "b"), Scale: c.scale}
		if r := a.Read(); math.Abs(r.Value-c.want) > 1e-9 || r.State != telemetry.Fresh {
			t.Errorf("scale %v: %+v, want %v", c.scale, r, c.want)
		}
		a.File.Close()
	}
}
