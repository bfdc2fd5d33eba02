package tracefile

import (
	"math"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

func read(t *testing.T, text string) *telemetry.Trace {
	t.Helper()
	trace, err := Read(strings.NewReader(text), Options{})
	if err != nil {
		t.Fatal(err)
	}
	return trace
}

// TestContractExample reads the example that the contract of the trace file gives.
func TestContractExample(t *testing.T) {
	trace := read(t, `# setup: cooler = fan cooler, as delivered
# setup: paste = factory
# mark: 62.5 panel back on
time [s],package power [W],die temperature [degC],core clock [MHz],ambient temperature [degC],load [%]
0.100,5.912,41,800,22.40,0.3
0.200,,42,800,22.40,0.3
`)
	if !slices.Equal(trace.Time, []float64{0, 0.1}) {
		t.Errorf("time %v is not counted from the first sample", trace.Time)
	}
	if want := []telemetry.Setting{{Key: "cooler", Value: "fan cooler, as delivered"}, {Key: "paste", Value: "factory"}}; !slices.Equal(trace.Setup, want) {
		t.Errorf("setup %v", trace.Setup)
	}
	if want := []telemetry.Mark{{ID: 1, At: 62.4, Kind: telemetry.MarkUser, Text: "panel back on"}}; !slices.Equal(trace.Marks, want) {
		t.Errorf("marks %v", trace.Marks)
	}
	for i, role := range []telemetry.Role{telemetry.RolePower, telemetry.RoleDie, telemetry.RoleClock, telemetry.RoleAmbient, telemetry.RoleLoad} {
		if trace.Channels[i].Role != role {
			t.Errorf("%s has role %q, not %q", trace.Channels[i].Name, trace.Channels[i].Role, role)
		}
	}
	if v := trace.Values[0]; v[0] != 5.912 || !math.IsNaN(v[1]) {
		t.Errorf("power %v", v)
	}
	if s := trace.StateAt(0, 1); s != telemetry.GapEmpty {
		t.Errorf("an empty cell has state %v", s)
	}
}

// TestUnits: SI prefixes and the fixed points of the temperature scales (0 degC =
// 273.15 K = 32 degF, 100 degC = 212 degF; SI Brochure, 9th edition, 2.3.1, and NIST
// SP 811, appendix B.8).
func TestUnits(t *testing.T) {
	cells := []struct {
		head, cell string
		kind       quantity.Kind
		want       float64
	}{
		{"a [W]", "1.5", quantity.Power, 1.5}, {"a [mW]", "1500", quantity.Power, 1.5}, {"a [uW]", "1500000", quantity.Power, 1.5},
		{"a [degC]", "100", quantity.Temperature, 100}, {"a [°C]", "100", quantity.Temperature, 100},
		{"a [K]", "273.15", quantity.Temperature, 0}, {"a [degF]", "212", quantity.Temperature, 100}, {"a [degF]", "32", quantity.Temperature, 0},
		{"a [mdegC]", "41500", quantity.Temperature, 41.5},
		{"a [Hz]", "8e8", quantity.Frequency, 800}, {"a [kHz]", "800000", quantity.Frequency, 800}, {"a [GHz]", "0.8", quantity.Frequency, 800},
		{"a [rpm]", "1200", quantity.Rotation, 1200}, {"a [mV]", "900", quantity.Potential, 0.9}, {"a [mA]", "250", quantity.Current, 0.25},
		{"a [%]", "12.5", quantity.Share, 12.5}, {"a [mJ]", "2662691", quantity.Energy, 2662.691}, {"a [uJ]", "5000000", quantity.Energy, 5},
		{"a [ms]", "28", quantity.Duration, 0.028}, {"a [L/min]", "1.5", quantity.Flow, 1.5}, {"a [bits]", "0x24", quantity.Bits, 36},
		{"die_temperature_c", "41", quantity.Temperature, 41}, {"package_power_mw", "1500", quantity.Power, 1.5},
		{"core_clock_mhz", "800", quantity.Frequency, 800}, {"fan_rpm", "900", quantity.Rotation, 900}, {"load_pct", "3", quantity.Share, 3},
		{"rise_k", "3", quantity.Difference, 3}, {"path_k_per_w", "0.9", quantity.Resistance, 0.9}, {"power_W", "3", quantity.Power, 3},
		{"points", "3", quantity.Unknown, 3}, {"points []", "3", quantity.Unknown, 3}, {"stage", "two", quantity.Label, 0},
	}
	for _, c := range cells {
		trace := read(t, "time_s,"+c.head+"\n0,"+c.cell+"\n")
		ch, v := trace.Channels[0], trace.Values[0][0]
		if ch.Quantity != c.kind || math.Abs(v-c.want) > 1e-9*max(1, math.Abs(c.want)) {
			t.Errorf("%s,%s is %v %v, not %v %v", c.head, c.cell, ch.Quantity, v, c.kind, c.want)
		}
	}
}

// TestTolerated: byte-order mark, CRLF, blank lines, spaces, quoted cells, notes between rows.
func TestTolerated(t *testing.T) {
	trace := read(t,
		"\ufeff# setup: lid = open\r\n\r\ntime [s],\"fan, left [rpm]\",stage [text]\r\n\r\n# mark: 1 go\r\n 0 , 5 ,\"two\r\nlines\"\r\n1,NaN,\"a \"\"b\"\"\"\r\n")
	if c := trace.Channels; c[0].Name != "fan, left" || c[0].Role != telemetry.RoleFan || !slices.Equal(c[1].Labels, []string{"two\r\nlines", `a "b"`}) {
		t.Errorf("channels %+v", c)
	}
	if v := trace.Values[0]; v[0] != 5 || !math.IsNaN(v[1]) {
		t.Errorf("values %v", v)
	}
	if len(trace.Setup) != 1 || len(trace.Marks) != 1 || trace.Marks[0].At != 1 {
		t.Errorf("setup %v, marks %v", trace.Setup, trace.Marks)
	}
}

func TestWallClock(t *testing.T) {
	trace := read(t, "# mark: 2026-03-01T20:15:01Z go\n# mark: 0.5 stop\ntime,x [W]\n2026-03-01T20:15:00.5Z,1\n2026-03-01T21:15:02+01:00,2\n")
	if !trace.Start.Equal(time.Date(2026, 3, 1, 20, 15, 0, 5e8, time.UTC)) || !slices.Equal(trace.Time, []float64{0, 1.5}) {
		t.Errorf("start %v, time %v", trace.Start, trace.Time)
	}
	if trace.Marks[0].At != 0.5 || trace.Marks[1].At != 0.5 {
		t.Errorf("marks %v", trace.Marks)
	}
}

// TestRecording reads the real recording: its roles, its phases and the meaning of its
// reason bits.
func TestRecording(t *testing.T) {
	f, err := os.Open("../../testdata/traces/accelerator-full-load.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	trace, err := Read(f, Options{})
	if err != nil {
		t.Fatal(err)
	}
	roles := map[telemetry.Role]string{
		telemetry.RolePower: "board power", telemetry.RoleDie: "die temperature", telemetry.RoleClock: "core clock",
		telemetry.RoleLoad: "load", telemetry.RoleEnergy: "energy counter", telemetry.RoleReasons: "reasons",
	}
	for i, c := range trace.Channels {
		if want := roles[c.Role]; c.Role != telemetry.RoleNone && c.Name != want {
			t.Errorf("channel %d, %q, has role %q", i, c.Name, c.Role)
		}
		delete(roles, c.Role)
	}
	if len(roles) != 0 {
		t.Errorf("no channel has the roles %v", roles)
	}
	if len(trace.Time) != 8900 || len(trace.Setup) != 2 {
		t.Errorf("%d rows, %d settings", len(trace.Time), len(trace.Setup))
	}
	if l := trace.Channels[9].Labels; !slices.Equal(l, []string{"idle", "full", "half"}) {
		t.Errorf("labels %v", l)
	}
	if b := trace.Channels[8].Bits; len(b) == 0 || b[2].Mask != 4 || b[2].Limiter != "power-long" {
		t.Errorf("bits %v", b)
	}
	for c, column := range trace.Values {
		if len(column) != len(trace.Time) {
			t.Errorf("column %d has %d values", c, len(column))
		}
	}
}

func TestRoles(t *testing.T) {
	hot := "0,50,60,55\n"
	tests := []struct{ name, head, row, die string }{
		{"hottest of several", "cpu 0 [degC],cpu 1 [degC],memory temperature [degC]", hot, "cpu 1"},
		{"cores alone", "core 0 [degC],core 1 [degC],core 2 [degC]", hot, "core 1"},
		{"hot spot before edge", "hot spot temperature [degC],gpu edge [degC],room temperature [degC]", hot, "hot spot temperature"},
		{"package before cores", "core 0 [degC],core 1 [degC],package temperature [degC]", hot, "package temperature"},
		{"nothing of the kind", "battery temperature [degC],ssd temperature [degC],outlet air temperature [degC]", hot, ""},
	}
	for _, tt := range tests {
		trace := read(t, "time [s],"+tt.head+"\n"+tt.row)
		got := ""
		if i := trace.Index(telemetry.RoleDie); i >= 0 {
			got = trace.Channels[i].Name
		}
		if got != tt.die {
			t.Errorf("%s: die is %q, not %q", tt.name, got, tt.die)
		}
	}
}

func TestRoleOverride(t *testing.T) {
	text := "time [s],cpu 0 [degC],cpu 1 [degC]\n0,50,60\n"
	trace, err := Read(strings.NewReader(text), Options{Roles: map[telemetry.Role]string{telemetry.RoleDie: "cpu 0"}})
	if err != nil || trace.Channels[0].Role != telemetry.RoleDie || trace.Channels[1].Role != telemetry.RoleNone {
		t.Errorf("%v, %v", trace, err)
	}
	if _, err = Read(strings.NewReader(text), Options{Roles: map[telemetry.Role]string{telemetry.RoleDie: "cpu 9"}}); err == nil {
		t.Error("an override that fits no channel passed")
	}
}

// TestDerivedPower: 5 W is 5 J a second whatever the step; a counter that falls is a gap.
func TestDerivedPower(t *testing.T) {
	trace := read(t, "time [s],package energy [mJ]\n0,1000\n1,6000\n1.5,6000\n2,11000\n3,500\n4,5500\n5,\n6,15500\n9,15500\n")
	c := trace.Index(telemetry.RolePower)
	if c < 0 {
		t.Fatal("no power")
	}
	want := []float64{math.NaN(), 5, 5, 5, math.NaN(), 5, math.NaN(), 5, math.NaN()}
	states := []telemetry.State{telemetry.NoData, telemetry.Fresh, telemetry.Held, telemetry.Fresh, telemetry.GapCounter,
		telemetry.Fresh, telemetry.GapEmpty, telemetry.Fresh, telemetry.GapStale}
	if !sameColumn(trace.Values[c], want) || !reflect.DeepEqual(trace.States[c], states) {
		t.Errorf("power %v, states %v", trace.Values[c], trace.States[c])
	}
}

func sameColumn(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool {
		return x == y || math.IsNaN(x) && math.IsNaN(y)
	})
}
