package archive

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"io"
	"math"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"soakline/collector/telemetry"
)

// chunks draws columns of every sort: steps, decimals, noise, any bits at all, gaps.
func chunks() *rapid.Generator[*chunk] {
	return rapid.Custom(func(t *rapid.T) *chunk {
		rows, channels := rapid.IntRange(1, 40).Draw(t, "rows"), rapid.IntRange(0, 4).Draw(t, "channels")
		c := newChunk(7, channels, rows)
		value := rapid.OneOf(
			rapid.Map(rapid.IntRange(-100000, 100000), func(n int) float64 { return float64(n) / 1000 }),
			rapid.Map(rapid.IntRange(20, 99), func(n int) float64 { return float64(n) }),
			rapid.Map(rapid.Uint64(), math.Float64frombits),
			rapid.SampledFrom([]float64{0, math.Copysign(0, -1), math.Inf(1), math.NaN(), math.MaxFloat64, 1 << 53, 1<<53 + 2, 1 << 30, -1 << 30, 16777217}))
		for range rows {
			c.at = append(c.at, value.Draw(t, "at"))
			for k := range channels {
				v, s := value.Draw(t, "value"), telemetry.State(rapid.IntRange(0, telemetry.NumStates-1).Draw(t, "state"))
				if !s.Usable() {
					v = math.NaN()
				}
				c.values[k], c.states[k] = append(c.values[k], v), append(c.states[k], s)
			}
		}
		return c
	})
}

func sameBits(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool {
		return math.Float64bits(x) == math.Float64bits(y) || math.IsNaN(x) && math.IsNaN(y)
	})
}

// TestForms: both forms give back every time, value and state, those of width 4 as the
// float32 that they were stored as.
func TestForms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := chunks().Draw(t, "chunk")
		widths := make([]int, len(c.values))
		for k := range widths {
			widths[k] = rapid.SampledFrom([]int{4, 8}).Draw(t, "width")
		}
		packed, err := c.pack(widths)
		if err != nil {
			t.Fatal(err)
		}
		for name, read := range map[string]func() (*chunk, error){
			"plain":  func() (*chunk, error) { return readPlain(c.plain(widths), 7, len(c.at), len(c.values), widths) },
			"packed": func() (*chunk, error) { return readPacked(packed, 7, len(c.at), len(c.values), widths) },
		} {
			got, err := read()
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if got.first != 7 || !sameBits(got.at, c.at) {
				t.Fatalf("%s: times %v, not %v", name, got.at, c.at)
			}
			for k := range c.values {
				want := slices.Clone(c.values[k])
				if widths[k] == 4 {
					for i := range want {
						want[i] = widen(float32(want[i]))
					}
				}
				if !sameBits(got.values[k], want) || !slices.Equal(got.states[k], c.states[k]) {
					t.Fatalf("%s: channel %d is\n%v %v, not\n%v %v", name, k, got.values[k], got.states[k], want, c.states[k])
				}
			}
		}
	})
}

// TestWiden: the shortest decimal, as strconv finds it.
func TestWiden(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.OneOf(rapid.Float32(), rapid.Float32Range(-20000, 20000),
			rapid.Map(rapid.IntRange(-1e7, 1e7), func(n int) float32 { return float32(n) / 1000 })).Draw(t, "f")
		want, _ := strconv.ParseFloat(strconv.FormatFloat(float64(f), 'g', -1, 32), 64)
		if float64(f) == math.Trunc(float64(f)) {
			want = float64(f)
		}
		if got := widen(f); got != want {
			t.Fatalf("%v is %v, not %v", f, got, want)
		}
	})
}

// TestPackedFormAsDocumented reads a packed block by the words of schema.sql alone.
func TestPackedFormAsDocumented(t *testing.T) {
	c := newChunk(1, 1, 3)
	c.at = []float64{0, 0.5, 1.5}
	c.values[0] = []float64{41, math.NaN(), 39.5}
	c.states[0] = []telemetry.State{telemetry.Fresh, telemetry.GapIO, telemetry.Held}
	packed, err := c.pack([]int{4})
	if err != nil {
		t.Fatal(err)
	}
	z, err := zlib.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	got, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	want := []byte{1, 0, 10, 20} // times: one decimal; differences 0, 5, 10 zigzag 0, 10, 20
	want = append(want, make([]byte, 7*3)...)
	want = append(want, 1)                            // values: one decimal; 410, as before, 395
	want = append(want, 820&255, 0, 29, 820>>8, 0, 0) // differences 410, 0, -15 zigzag 820, 0, 29
	want = append(want, make([]byte, 2*3)...)         // upper planes
	want = append(want, 1, 6, 2)                      // states
	if !bytes.Equal(got, want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
	plain := c.plain([]int{4})
	if v := math.Float32frombits(binary.LittleEndian.Uint32(plain[3*8+2*4:])); len(plain) != 3*(8+4+1) || v != 39.5 || plain[len(plain)-1] != 2 {
		t.Errorf("plain %v", plain)
	}
}

// FuzzReadPacked: damaged blocks are errors, never panics.
func FuzzReadPacked(f *testing.F) {
	c := newChunk(1, 1, 3)
	c.at, c.values[0], c.states[0] = []float64{0, 1, 2}, []float64{1, 2, 3}, []telemetry.State{1, 1, 1}
	if b, err := c.pack([]int{4}); err == nil {
		f.Add(b, 3, 1)
	}
	f.Add([]byte("x\xdaba0"), 0, 1) // no rows: once a panic
	f.Fuzz(func(t *testing.T, b []byte, rows, channels int) {
		widths := []int{4, 8, 4}
		blk := block{first: 1, rows: rows, channels: channels, form: formPacked, data: b}
		if c, err := blk.chunk(widths); err == nil && len(c.at) != rows {
			t.Fatalf("%d rows, not %d", len(c.at), rows)
		}
		blk.form = formPlain
		blk.chunk(widths)
	})
}
