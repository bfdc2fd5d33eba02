package ring

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/collector/telemetry"
)

// model is the ring as a plain slice that forgets nothing.
type model struct {
	rows     []telemetry.Row
	channels int
}

func (m *model) append(row telemetry.Row) {
	row.Seq = uint64(len(m.rows) + 1)
	row.Values = append([]float64(nil), row.Values...)
	row.States = append([]telemetry.State(nil), row.States...)
	m.rows = append(m.rows, row)
}

// cell is channel c of row seq.
func (m *model) cell(seq uint64, c int) (float64, telemetry.State) {
	row := m.rows[seq-1]
	if c >= len(row.Values) {
		return math.NaN(), telemetry.NoData
	}
	return row.Values[c], row.States[c]
}

// bucket works out minimum, mean and maximum of channel c over from <= t < to.
func (m *model) bucket(c int, from, to float64) (lo, mean, hi float64) {
	n, sum := 0, 0.0
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, row := range m.rows {
		if row.At < from || row.At >= to || c >= len(row.Values) || !row.States[c].Usable() {
			continue
		}
		lo, hi, sum, n = min(lo, row.Values[c]), max(hi, row.Values[c]), sum+row.Values[c], n+1
	}
	if n == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	return lo, sum / float64(n), hi
}

func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

// near allows for float32: 2^-24 of the largest value that anyRow makes, 1000.
func near(a float32, b float64) bool {
	return math.IsNaN(float64(a)) && math.IsNaN(b) || math.Abs(float64(a)-b) <= 1000.0/(1<<24)*2
}

// testSize wraps soon: 60 rows in chunks of 16, 20 buckets of 1 s, 30 of 5 s.
var testSize = Config{Period: 100 * time.Millisecond, RawSpan: 6 * time.Second,
	Tiers: []Tier{{time.Second, 20 * time.Second}, {5 * time.Second, 150 * time.Second}}}

func anyRow(rnd *rand.Rand, at float64, channels int) telemetry.Row {
	row := telemetry.Row{At: at, Lateness: time.Duration(rnd.IntN(1000))}
	for range channels {
		s := telemetry.State(rnd.IntN(telemetry.NumStates))
		v := math.NaN()
		if rnd.IntN(2) == 0 {
			s = telemetry.Fresh
		}
		if s.Usable() || rnd.IntN(4) == 0 { // a number beside a gap is none all the same
			v = float64(rnd.IntN(2001) - 1000)
		}
		row.Values, row.States = append(row.Values, v), append(row.States, s)
	}
	return row
}

// TestRingIsItsModel drives a small ring and a plain slice with the same rows, uneven in
// time and with holes, and channels that come later, through several turns of its memory.
func TestRingIsItsModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := &model{channels: rapid.IntRange(0, 3).Draw(t, "channels")}
		r := New(testSize, m.channels)
		at := 0.0
		rnd := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		for range rapid.IntRange(1, 40).Draw(t, "rounds") {
			switch rapid.IntRange(0, 9).Draw(t, "what") {
			case 0:
				r.Extend(1)
				m.channels++
			case 1:
				at += rapid.Float64Range(1, 40).Draw(t, "hole")
			}
			step := rapid.SampledFrom([]float64{0.1, 0.1000001, 0.25, 1}).Draw(t, "step")
			pairs := rapid.Bool().Draw(t, "pairs") // two rows at one time
			for i := range rapid.IntRange(1, 30).Draw(t, "rows") {
				row := anyRow(rnd, at, m.channels)
				if !r.Append(row) {
					t.Fatalf("row at %v refused", at)
				}
				m.append(row)
				if !pairs {
					at += step
				} else if i%2 == 1 {
					at += 2 * step
				}
			}
			checkRows(t, r, m)
			checkBuckets(t, r, m, at)
		}
	})
}

func checkRows(t *rapid.T, r *Ring, m *model) {
	last := uint64(len(m.rows))
	if r.Last() != last || r.Channels() != m.channels || r.Now() != m.rows[last-1].At {
		t.Fatalf("last %d channels %d now %v; want %d %d %v", r.Last(), r.Channels(), r.Now(), last, m.channels, m.rows[last-1].At)
	}
	if held := last - r.First() + 1; held < min(last, 60) || held > 61+2*16 {
		t.Fatalf("%d of %d rows held", held, last)
	}
	after := uint64(rapid.IntRange(0, int(last)+2).Draw(t, "after"))
	limit := rapid.IntRange(0, 100).Draw(t, "max")
	var b Block
	n, gap := r.Rows(after, limit, &b)
	from := max(after+1, r.First())
	want := 0
	if from <= last {
		want = min(int(last-from+1), limit)
	}
	if n != want || b.N != n || gap != (after+1 < r.First()) || n > 0 && b.First != from {
		t.Fatalf("Rows(%d, %d) = %d rows from %d, gap %v; want %d from %d", after, limit, n, b.First, gap, want, from)
	}
	for i := range n {
		row, model := b.Row(i), m.rows[b.First+uint64(i)-1]
		if row.Seq != model.Seq || row.At != model.At || row.Lateness != model.Lateness || len(row.Values) != m.channels {
			t.Fatalf("row %+v; want %+v", row, model)
		}
		for c := range row.Values {
			if v, s := m.cell(row.Seq, c); !same(row.Values[c], v) || row.States[c] != s {
				t.Fatalf("row %d channel %d: %v %v; want %v %v", row.Seq, c, row.Values[c], row.States[c], v, s)
			}
		}
	}
}

func checkBuckets(t *rapid.T, r *Ring, m *model, now float64) {
	from := rapid.Float64Range(-1, now).Draw(t, "from")
	to := rapid.Float64Range(from, now+10).Draw(t, "to")
	limit := rapid.IntRange(1, 30).Draw(t, "buckets")
	b := r.Buckets(from, to, limit)
	if b.N > limit || b.Channels != m.channels || len(b.Min) != b.N*b.Channels {
		t.Fatalf("Buckets(%v, %v, %d) gives %d buckets of %d channels", from, to, limit, b.N, b.Channels)
	}
	if b.N == 0 {
		return
	}
	if b.From != math.Floor(b.From/b.Width)*b.Width || math.Mod(b.Width, 1) != 0 {
		t.Fatalf("from %v, width %v: not on the grid", b.From, b.Width)
	}
	for c := range b.Channels {
		for i := range b.N {
			lo, mean, hi := m.bucket(c, b.From+float64(i)*b.Width, b.From+float64(i+1)*b.Width)
			k := c*b.N + i
			if i == 0 && b.From < oldestAt(r) {
				continue // the tier may have lost a part of it
			}
			if !near(b.Min[k], lo) || !near(b.Mean[k], mean) || !near(b.Max[k], hi) {
				t.Fatalf("channel %d bucket %d of %v s from %v: %v %v %v; want %v %v %v",
					c, i, b.Width, b.From, b.Min[k], b.Mean[k], b.Max[k], lo, mean, hi)
			}
		}
	}
}

func oldestAt(r *Ring) float64 { s, _ := r.oldest(); return s }
