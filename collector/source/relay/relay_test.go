package relay

import (
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

// The golden frames were laid out by testdata/wire/make.py after the table, not by the
// server's encoder; the server and the page are held to the same ones.
func golden(t testing.TB, file string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "wire", file))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestGoldenFrames(t *testing.T) {
	f, err := decode(golden(t, "row.bin"))
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		Version  uint32 `json:"channels_version"`
		Seq      uint64
		AtS      float64 `json:"at_s"`
		Lateness float64 `json:"lateness_ms"`
		Values   []*float64
		States   []telemetry.State
	}
	if err := json.Unmarshal(golden(t, "row.json"), &want); err != nil {
		t.Fatal(err)
	}
	r := f.row
	if f.kind != typeRow || f.channels != want.Version || r.Seq != want.Seq || r.At != want.AtS ||
		r.Lateness != time.Duration(want.Lateness*1e6) || len(r.Values) != len(want.Values) {
		t.Errorf("%+v", f)
	}
	for i, v := range want.Values {
		if r.States[i] != want.States[i] || (v == nil) != math.IsNaN(r.Values[i]) || v != nil && *v != r.Values[i] {
			t.Errorf("value %d: %v in state %d", i, r.Values[i], r.States[i])
		}
	}
	f, err = decode(golden(t, "event.bin"))
	if m := f.event.Mark; err != nil || f.event.Kind != "mark" || m == nil || *m != (mark{3, 62.5, "user", "panel <back> on, 31 °C"}) {
		t.Errorf("%+v %v", f, err)
	}
	if f, err = decode(golden(t, "skip.bin")); err != nil || f.kind == typeRow || f.kind == typeEvent {
		t.Errorf("%+v %v", f, err)
	}
	rest := golden(t, "rows.bin")
	for seq := uint64(1); seq <= 2; seq++ {
		var msg []byte
		if msg, rest, err = nextSized(rest); err != nil {
			t.Fatal(err)
		}
		if f, err = decode(msg); err != nil || f.row.Seq != seq || f.row.At != float64(seq)/8 || f.row.Values[0] != float64(seq) {
			t.Errorf("%+v %v", f, err)
		}
	}
	if len(rest) != 0 {
		t.Errorf("%d bytes left", len(rest))
	}
}

// No message brings the decoder down, and no row that it takes breaks the rules.
func FuzzDecode(f *testing.F) {
	for _, file := range []string{"row.bin", "event.bin", "skip.bin", "history.bin", "rows.bin"} {
		f.Add(golden(f, file))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		nextSized(b)
		fr, err := decode(b)
		if err != nil || fr.kind != typeRow {
			return
		}
		if math.IsNaN(fr.row.At) || len(fr.row.Values) != len(fr.row.States) {
			t.Errorf("%+v", fr)
		}
		for _, s := range fr.row.States {
			if int(s) >= telemetry.NumStates {
				t.Errorf("state %d", s)
			}
		}
	})
}

func TestBadFrames(t *testing.T) {
	row := golden(t, "row.bin")
	for name, b := range map[string][]byte{
		"short": row[:15], "cut": row[:len(row)-1], "longer": append(row[:len(row):len(row)], 0),
		"version": append([]byte{2}, row[1:]...), "no JSON": append([]byte{1, typeEvent}, make([]byte, 20)...),
		"no time": func() []byte {
			b := append([]byte{}, row...)
			binary.LittleEndian.PutUint64(b[16:], math.Float64bits(math.NaN()))
			return b
		}(),
	} {
		if f, err := decode(b); err == nil {
			t.Errorf("%s: %+v", name, f)
		}
	}
	if _, _, err := nextSized([]byte{9, 0, 0, 0, 1}); err == nil {
		t.Error("a cut message was taken")
	}
}

func TestAddresses(t *testing.T) {
	for text, want := range map[string]string{"http://192.0.2.7:7625": "192.0.2.7:7625", "192.0.2.7:7625": "192.0.2.7:7625", "http://[::1]:7625/": "[::1]:7625",
		"localhost:7625": "localhost:7625", "http://192.0.2.7": "192.0.2.7:80"} {
		a, err := parseAddress(text)
		if err != nil {
			t.Error(err)
			continue
		}
		if got, err := a.resolve(t.Context()); err != nil || got != want {
			t.Errorf("%s becomes %s, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "http://", "https://192.0.2.7:7625", "http://192.0.2.7:7625/api", "http://me@192.0.2.7:7625", "ftp://x", "http://h:1?x=1"} {
		if a, err := parseAddress(text); err == nil {
			t.Errorf("%q was taken as %+v", text, a)
		}
	}
}

// offer is a layout as the other computer gives it.
func offer(session string, lastSeq uint64, keys ...string) *layout {
	l := &layout{Version: version, ChannelsVersion: 1, LastSeq: lastSeq, Setup: []setting{{"cooler", "fan"}}}
	l.Session.ID, l.Session.Host, l.Session.PeriodS = session, "dome", 0.1
	for _, k := range keys {
		l.Channels = append(l.Channels, channel{Key: k, Name: k, Quantity: "temperature", Device: "chip", RefreshS: 1})
	}
	return l
}

// Every quantity and role that a soakline can have comes through.
func TestChannelsComeThrough(t *testing.T) {
	for k := quantity.Temperature; k <= quantity.Resistance; k++ {
		c := channel{Quantity: k.String(), Labels: []string{"a"}}
		if got := c.telemetry("dome").Quantity; got != k {
			t.Errorf("%v becomes %v", k, got)
		}
	}
	for _, r := range telemetry.Roles() {
		c := channel{Role: string(r)}
		if got := c.telemetry("dome").Role; got != r {
			t.Errorf("role %q becomes %q", r, got)
		}
	}
	c := channel{Quantity: "rubbish", Role: "boss", RefreshS: math.Inf(1)}
	if got := c.telemetry("dome"); got.Quantity != quantity.Unknown || got.Role != telemetry.RoleNone {
		t.Errorf("%+v", got)
	}
}

func TestContract(t *testing.T) {
	sourcetest.Check(t, func() telemetry.Source {
		s := newSource(Config{}, address{})
		s.start(offer("one", 0, "a", "b"))
		s.show(&item{layout: s.layout, row: telemetry.Row{Values: []float64{41, math.NaN()}, States: []telemetry.State{telemetry.Held, telemetry.GapIO}}})
		return s
	})
}
