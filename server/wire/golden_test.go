package wire

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"soakline/analysis"
	"soakline/collector/telemetry"
)

// The golden frames are the border between the two languages: this test says that the
// server writes them, the page's tests say that the page reads them as their .json
// says. Their bytes were laid out by hand after the table in DEVELOPERS.md with Python's
// struct module ("<BBHIQ", "<d", "<f"), not by this package: see testdata/wire/make.py.
const goldenDir = "../../testdata/wire"

var nan = math.NaN()

func goldenRow() telemetry.Row {
	return telemetry.Row{
		Seq: 4242, At: 424.125, Lateness: 1500 * time.Microsecond,
		Values: []float64{28.5, nan, -3.25, 99},
		States: []telemetry.State{telemetry.Fresh, telemetry.GapDenied, telemetry.Held, telemetry.GapIO},
	}
}

func goldenHistory() History {
	g := float32(nan)
	return History{ChannelsVersion: 7, Channels: 2, Buckets: 3, FromS: 120, WidthS: 10, LastSeq: 1499,
		Min:  []float32{1, g, 3, -4, 5, g},
		Mean: []float32{1.5, g, 3.25, -2, 5.5, g},
		Max:  []float32{2, g, 3.5, 0, 6, g},
	}
}

func TestGoldenFrames(t *testing.T) {
	row, err := AppendRow(nil, 7, goldenRow())
	if err != nil {
		t.Fatal(err)
	}
	history, err := goldenHistory().Append(nil)
	if err != nil {
		t.Fatal(err)
	}
	event, err := AppendEvent(nil, 7, 4242, Event{Kind: EventMark,
		Mark: &Mark{ID: 3, AtS: 62.5, Kind: "user", Text: "panel <back> on, 31 °C"}})
	if err != nil {
		t.Fatal(err)
	}
	var rows []byte
	for seq := uint64(1); seq <= 2; seq++ {
		r := telemetry.Row{Seq: seq, At: float64(seq) / 8, Values: []float64{float64(seq)}, States: []telemetry.State{telemetry.Fresh}}
		begun, at := BeginSized(rows)
		if rows, err = AppendRow(begun, 7, r); err != nil {
			t.Fatal(err)
		}
		rows = EndSized(rows, at)
	}
	for name, got := range map[string][]byte{
		"row.bin": row, "history.bin": history, "event.bin": event,
		"skip.bin": AppendSkip(nil, 7, 4300), "rows.bin": rows,
	} {
		compareGolden(t, name, got)
	}
}

// compareGolden leaves what it got beside the golden file in an ignored .got file.
func compareGolden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join(goldenDir, name)
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(got, want) {
		return
	}
	if err := os.WriteFile(path+".got", got, 0o644); err != nil {
		t.Error(err)
	}
	t.Errorf("%s differs: got\n%x\nwant\n%x", name, got, want)
}

func TestDecodersReadGoldenFrames(t *testing.T) {
	read := func(name string) []byte {
		b, err := os.ReadFile(filepath.Join(goldenDir, name))
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	var r telemetry.Row
	h, err := DecodeRow(read("row.bin"), &r)
	if err != nil || h != (Header{TypeRow, 4, 7, 4242}) {
		t.Fatalf("row header %+v, error %v", h, err)
	}
	if r.At != 424.125 || r.Lateness != 1500*time.Microsecond || r.Values[0] != 28.5 ||
		!math.IsNaN(r.Values[1]) || !math.IsNaN(r.Values[3]) || r.States[3] != telemetry.GapIO {
		t.Errorf("row %+v", r)
	}
	hist, err := DecodeHistory(read("history.bin"))
	if err != nil {
		t.Fatal(err)
	}
	again, err := hist.Append(nil)
	if err != nil || !bytes.Equal(again, read("history.bin")) {
		t.Errorf("history does not survive a round trip: %+v, %v", hist, err)
	}
	first, rest, err := NextSized(read("rows.bin"))
	if err != nil {
		t.Fatal(err)
	}
	second, rest, err := NextSized(rest)
	if err != nil || len(rest) != 0 {
		t.Fatalf("rows: %d bytes left, error %v", len(rest), err)
	}
	for i, b := range [][]byte{first, second} {
		if h, err := DecodeRow(b, &r); err != nil || h.Seq != uint64(i+1) {
			t.Errorf("sized row %d: %+v, %v", i, h, err)
		}
	}
}

// What is not known is null and never left out; times are RFC 3339.
func TestLayoutJSON(t *testing.T) {
	b, err := json.Marshal(Layout{LimitC: analysis.Unknown(),
		Session: Session{Start: time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC)}})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"limit_c":null`, `"rig":null`, `"start":"2026-01-02T03:04:05Z"`} {
		if !bytes.Contains(b, []byte(want)) {
			t.Errorf("%s lacks %s", b, want)
		}
	}
}
