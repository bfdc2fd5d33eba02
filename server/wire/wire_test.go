package wire

import (
	"bytes"
	"encoding/binary"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"soakline/collector/telemetry"
)

// float32 loses nothing that float32 can hold, gaps stay gaps, states stay states.
func TestRowRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float32Range(-1e9, 1e9), 0, 40).Draw(t, "values")
		in := telemetry.Row{Seq: rapid.Uint64().Draw(t, "seq"), At: rapid.Float64().Draw(t, "at")}
		for _, v := range values {
			in.Values = append(in.Values, float64(v))
			in.States = append(in.States, telemetry.State(rapid.IntRange(0, telemetry.NumStates-1).Draw(t, "state")))
		}
		b, err := AppendRow(nil, 9, in)
		if err != nil {
			t.Fatal(err)
		}
		var out telemetry.Row
		h, err := DecodeRow(b, &out)
		if err != nil || h.ChannelsVersion != 9 || out.Seq != in.Seq || out.At != in.At {
			t.Fatalf("header %+v, row %+v, error %v", h, out, err)
		}
		for i, s := range in.States {
			want := in.Values[i]
			if !s.Usable() {
				want = math.NaN()
			}
			if out.States[i] != s || out.Values[i] != want && !(math.IsNaN(want) && math.IsNaN(out.Values[i])) {
				t.Fatalf("channel %d: got %v %v, want %v %v", i, out.Values[i], out.States[i], want, s)
			}
		}
	})
}

// A state that promises a value beside a number that is none becomes a gap.
func TestRowNeverPromisesWhatIsNotANumber(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e39} {
		b, err := AppendRow(nil, 1, telemetry.Row{Values: []float64{v}, States: []telemetry.State{telemetry.Fresh}})
		if err != nil {
			t.Fatal(err)
		}
		var r telemetry.Row
		if _, err := DecodeRow(b, &r); err != nil || r.States[0] != telemetry.GapImplausible || !math.IsNaN(r.Values[0]) {
			t.Errorf("%v arrives as %v %v, error %v", v, r.Values[0], r.States[0], err)
		}
	}
}

func TestAppendRowRefuses(t *testing.T) {
	many := telemetry.Row{Values: make([]float64, MaxChannels+1), States: make([]telemetry.State, MaxChannels+1)}
	uneven := telemetry.Row{Values: make([]float64, 2), States: make([]telemetry.State, 1)}
	for name, r := range map[string]telemetry.Row{"too many": many, "uneven": uneven} {
		if b, err := AppendRow([]byte("x"), 1, r); err == nil || string(b) != "x" {
			t.Errorf("%s: error %v, buffer of %d", name, err, len(b))
		}
	}
	if _, err := (History{Channels: 1, Buckets: 1, Min: []float32{1}, Mean: []float32{1}, Max: []float32{1, 2}}).Append(nil); err == nil {
		t.Error("a history of uneven planes was written")
	}
}

func TestDecodersRefuse(t *testing.T) {
	good, err := goldenHistory().Append(nil)
	if err != nil {
		t.Fatal(err)
	}
	huge := bytes.Clone(good)
	binary.LittleEndian.PutUint64(huge[8:], math.MaxUint64/3) // as many buckets as would overflow the product
	old := bytes.Clone(good)
	old[0] = 2
	for _, c := range []struct {
		name string
		b    []byte
		want string
	}{
		{"empty", nil, "16"}, {"cut", good[:len(good)-1], "does not have"},
		{"huge", huge, "does not have"}, {"other version", old, "version 2"},
		{"other type", AppendSkip(nil, 1, 1), "type 3"},
	} {
		if _, err := DecodeHistory(c.b); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q in it", c.name, err, c.want)
		}
	}
	if _, _, err := NextSized([]byte{9, 0, 0, 0, 1}); err == nil {
		t.Error("a sized message that says more than is there was read")
	}
}

func FuzzDecode(f *testing.F) {
	row, _ := AppendRow(nil, 7, goldenRow())
	hist, _ := goldenHistory().Append(nil)
	for _, b := range [][]byte{nil, row, hist, AppendSkip(nil, 1, 2)} {
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		var r telemetry.Row
		if _, err := DecodeRow(b, &r); err == nil && len(r.Values) != len(r.States) {
			t.Error("values and states differ in number")
		}
		if h, err := DecodeHistory(b); err == nil {
			if again, err := h.Append(nil); err != nil || len(again) != len(b) {
				t.Errorf("history of %d bytes becomes %d, %v", len(b), len(again), err)
			}
		}
		NextSized(b)
	})
}

func hundred() telemetry.Row {
	r := telemetry.Row{Seq: 1, Values: make([]float64, 100), States: make([]telemetry.State, 100)}
	for i := range r.Values {
		r.Values[i], r.States[i] = float64(i)*1.7, telemetry.Fresh
	}
	return r
}

func TestEncodersAllocateNothing(t *testing.T) {
	r, h := hundred(), goldenHistory()
	buf := make([]byte, 0, 4096)
	if n := testing.AllocsPerRun(100, func() {
		buf, _ = AppendRow(buf[:0], 1, r)
		buf, _ = h.Append(buf[:0])
		buf = AppendSkip(buf[:0], 1, 1)
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

// The floor is copying as many bytes as the frame has.
func BenchmarkAppendRow100(b *testing.B) {
	r := hundred()
	buf := make([]byte, 0, 4096)
	b.ReportAllocs()
	for b.Loop() {
		buf, _ = AppendRow(buf[:0], 1, r)
	}
	b.SetBytes(int64(len(buf)))
}

func TestParseAck(t *testing.T) {
	if seq, err := ParseAck([]byte(`{"seq":18446744073709551615}`)); err != nil || seq != math.MaxUint64 {
		t.Errorf("largest number: %d, %v", seq, err)
	}
	for _, bad := range []string{``, `{}`, `{"seq":-1}`, `{"seq":1.5}`, `{"seq":1,"x":2}`, `{"seq":1}{"seq":2}`, `[1]`, `null`} {
		if _, err := ParseAck([]byte(bad)); err == nil {
			t.Errorf("%s was read", bad)
		}
	}
}
