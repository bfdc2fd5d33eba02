package parquet

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"testing"
	"time"

	pq "github.com/parquet-go/parquet-go"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

var nan = math.NaN()

func sample() *telemetry.Trace {
	return &telemetry.Trace{
		Start: time.Date(2026, 3, 1, 20, 15, 0, 0, time.UTC), Simulated: true,
		Time: []float64{0, 0.1, 0.2},
		Channels: []telemetry.Channel{
			{Key: "rig/z", Name: "zone, of. dots", Quantity: quantity.Temperature, Role: telemetry.RoleDie},
			{Key: "rig/p", Name: "package power", Quantity: quantity.Power, Role: telemetry.RolePower},
			{Key: "rig/p2", Name: "package power", Quantity: quantity.Power},
			{Key: "rig/r", Name: "reasons", Quantity: quantity.Bits, Role: telemetry.RoleReasons},
			{Key: "rig/l", Name: "profile", Quantity: quantity.Label, Labels: []string{"quiet", "full </script>"}},
		},
		Values: [][]float64{{41, nan, 42.5}, {5, 5.25, 64}, {1, 2, 3}, {0, 5, 1 << 20}, {0, 1, nan}},
		States: [][]telemetry.State{{telemetry.Fresh, telemetry.GapIO, telemetry.Held}, nil, nil, nil, nil},
		Setup:  []telemetry.Setting{{Key: "paste", Value: "factory"}},
		Marks:  []telemetry.Mark{{At: 0.1, Kind: telemetry.MarkUser, Text: "panel off"}},
	}
}

// Written and read back by the same library: order, types, nulls, units and reasons.
func TestRoundTrip(t *testing.T) {
	var b bytes.Buffer
	if err := Write(&b, sample()); err != nil {
		t.Fatal(err)
	}
	f, err := pq.OpenFile(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	var names, kinds []string
	for _, c := range f.Root().Columns() {
		names, kinds = append(names, c.Name()), append(kinds, c.Type().Kind().String())
	}
	wantNames := "[time [s] zone, of. dots [degC] zone, of. dots [degC] gap package power [W] package power [W] 2 reasons [bits] profile [text]]"
	if fmt.Sprint(names) != wantNames {
		t.Errorf("columns %v, want %v", names, wantNames)
	}
	if want := "[DOUBLE DOUBLE BYTE_ARRAY DOUBLE DOUBLE INT64 BYTE_ARRAY]"; fmt.Sprint(kinds) != want {
		t.Errorf("types %v, want %v", kinds, want)
	}
	want := [][]string{
		{"0", "41", "<null>", "5", "1", "0", "quiet"},
		{"0.1", "<null>", "the bus or firmware reported an error", "5.25", "2", "5", "full </script>"},
		{"0.2", "42.5", "<null>", "64", "3", "1048576", "<null>"},
	}
	rows := pq.NewReader(f)
	got := make([]pq.Row, 4)
	n, _ := rows.ReadRows(got)
	if n != len(want) {
		t.Fatalf("%d rows, want %d", n, len(want))
	}
	for i, w := range want {
		for c := range w {
			if s := got[i][c].String(); s != w[c] {
				t.Errorf("row %d, %s: %s, want %s", i, names[c], s, w[c])
			}
		}
	}
	text, ok := f.Lookup(MetaKey)
	var m Meta
	if !ok || json.Unmarshal([]byte(text), &m) != nil {
		t.Fatalf("metadata %q", text)
	}
	if m.Columns[0].Unit != "degC" || m.Columns[0].Role != "die" || m.Columns[0].Gaps != names[2] || m.Columns[2].Name != names[4] || !m.Simulated ||
		!m.Start.Equal(sample().Start) || m.Setup[0].Value != "factory" || m.Marks[0].AtS != 0.1 {
		t.Errorf("metadata %+v", m)
	}
}

func TestEmptyAndLong(t *testing.T) {
	var b bytes.Buffer
	empty := sample()
	empty.Time, empty.States = nil, nil
	for i := range empty.Values {
		empty.Values[i] = nil
	}
	if err := Write(&b, empty); err != nil {
		t.Fatal(err)
	}
	if f, err := pq.OpenFile(bytes.NewReader(b.Bytes()), int64(b.Len())); err != nil || f.NumRows() != 0 {
		t.Errorf("an empty trace: %v", err)
	}
	long := &telemetry.Trace{Channels: []telemetry.Channel{{Name: "t", Quantity: quantity.Temperature}}, Values: make([][]float64, 1)}
	for i := range 2*rowsAtOnce + 7 {
		long.Time, long.Values[0] = append(long.Time, float64(i)), append(long.Values[0], float64(i%90))
	}
	b.Reset()
	if err := Write(&b, long); err != nil {
		t.Fatal(err)
	}
	f, err := pq.OpenFile(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil || f.NumRows() != int64(len(long.Time)) {
		t.Errorf("%d rows, want %d: %v", f.NumRows(), len(long.Time), err)
	}
}
