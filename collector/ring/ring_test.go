package ring

import (
	"math"
	"runtime"
	"sync"
	"testing"
	"time"

	"soakline/collector/telemetry"
)

// rowOf is row n of a recording in which every value tells its row and channel.
func rowOf(n, channels int, into *telemetry.Row) telemetry.Row {
	into.At = float64(n) / 10
	into.Lateness = time.Duration(n)
	into.Values, into.States = into.Values[:0], into.States[:0]
	for c := range channels {
		into.Values = append(into.Values, float64(1000*n+c))
		into.States = append(into.States, telemetry.Fresh)
	}
	return *into
}

// TestReadersNeverSeeHalfARow lets readers run beside a writer that turns the whole
// memory over many times: each row they get must be one that was written, whole.
func TestReadersNeverSeeHalfARow(t *testing.T) {
	r := New(testSize, 4)
	var wg sync.WaitGroup
	stop := make(chan struct{})
	for range 3 {
		wg.Go(func() { follow(t, r, stop) })
	}
	wg.Go(func() {
		for !stopped(stop) {
			checkSpan(t, r.Buckets(0, math.Inf(1), 40))
		}
	})
	var row telemetry.Row
	channels := 4
	for n := range 8000 {
		if n%1500 == 1499 {
			r.Extend(1)
			channels++
		}
		r.Append(rowOf(n, channels, &row))
		if n%64 == 0 {
			runtime.Gosched()
		}
	}
	close(stop)
	wg.Wait()
}

func stopped(stop chan struct{}) bool {
	select {
	case <-stop:
		return true
	default:
		return false
	}
}

func follow(t *testing.T, r *Ring, stop chan struct{}) {
	var b Block
	var after uint64
	for !stopped(stop) {
		n, gap := r.Rows(after, 40, &b)
		if n > 0 && b.First != after+1 && !gap {
			t.Errorf("rows from %d after %d without a gap", b.First, after)
			return
		}
		for i := range n {
			row := b.Row(i)
			k := int(row.Seq) - 1
			whole := row.At == float64(k)/10 && row.Lateness == time.Duration(k)
			for c, v := range row.Values {
				whole = whole && (v == float64(1000*k+c) || row.States[c] == telemetry.NoData && math.IsNaN(v))
			}
			if !whole {
				t.Errorf("row %d is %+v", row.Seq, row)
				return
			}
		}
		if n > 0 {
			after = b.First + uint64(n) - 1
		}
	}
}

// checkSpan: values grow with time, so that no maximum lies above the next minimum.
func checkSpan(t *testing.T, b Buckets) {
	for i := 0; i+1 < b.N; i++ {
		if b.Max[i] > b.Min[i+1] || b.Mean[i] < b.Min[i] || b.Mean[i] > b.Max[i] {
			t.Errorf("buckets %d and %d: %v %v %v, then %v", i, i+1, b.Min[i], b.Mean[i], b.Max[i], b.Min[i+1])
			return
		}
	}
}

// TestPinnedChunkIsLeftAlone holds a chunk while the memory turns over: its rows must not
// change, and the writer must go on.
func TestPinnedChunkIsLeftAlone(t *testing.T) {
	r := New(testSize, 1)
	var row telemetry.Row
	for n := range 16 {
		r.Append(rowOf(n, 1, &row))
	}
	c := r.raw.pin(1)
	for n := 16; n < 1000; n++ {
		r.Append(rowOf(n, 1, &row))
	}
	if v := (*c.cols.Load())[0].values[3]; v != 3000 || c.base != 0 {
		t.Errorf("the chunk now says %v from row %d on", v, c.base)
	}
	c.unpin()
	if r.Last() != 1000 {
		t.Errorf("last is %d", r.Last())
	}
}

func TestRefusedRows(t *testing.T) {
	r := New(testSize, 1)
	row := telemetry.Row{At: 5, Values: []float64{1}, States: []telemetry.State{telemetry.Fresh}}
	r.Append(row)
	for _, at := range []float64{4.9, -1, math.NaN(), math.Inf(1)} {
		row.At = at
		if r.Append(row) {
			t.Errorf("a row at %v was taken", at)
		}
	}
	if r.Last() != 1 || r.Refused() != 4 || r.Now() != 5 {
		t.Errorf("last %d, refused %d, now %v", r.Last(), r.Refused(), r.Now())
	}
}

// TestDayFitsItsTiers runs a day of one channel through a ring of the default size.
func TestDayFitsItsTiers(t *testing.T) {
	r := New(Config{Period: time.Second}, 1)
	row := telemetry.Row{Values: make([]float64, 1), States: []telemetry.State{telemetry.Fresh}}
	for n := range 86400 + 3600 {
		row.At, row.Values[0] = float64(n), float64(n)
		r.Append(row)
	}
	now := r.Now()
	for _, c := range []struct {
		span, width float64
		max         int
	}{
		{60, 1, 100}, {3600, 2, 2000}, {2 * 3600, 10, 1000}, {86400, 50, 2000}, {86400, 10, 10000}, {86400, 1000, 100},
	} {
		b := r.Buckets(now-c.span, now, c.max)
		if b.Width != c.width || b.Last != r.Last() {
			t.Errorf("span %v s in %d: width %v, want %v; last %d of %d", c.span, c.max, b.Width, c.width, b.Last, r.Last())
		}
		mid := b.N / 2
		lo := b.From + float64(mid)*b.Width
		if want := lo + (b.Width-1)/2; float64(b.Min[mid]) != lo || float64(b.Mean[mid]) != want || float64(b.Max[mid]) != lo+b.Width-1 {
			t.Errorf("span %v: bucket at %v: %v %v %v", c.span, lo, b.Min[mid], b.Mean[mid], b.Max[mid])
		}
	}
}

// TestFixedMemory fills an hour of 100 channels and a day of tiers. Bytes is a sum over
// columns; the heap, which rounds each up, must agree, and the budget of the whole program is 80 MiB.
func TestFixedMemory(t *testing.T) {
	before := heap()
	r := New(Config{}, 100)
	var row telemetry.Row
	rowOf(0, 100, &row)
	for n := range 37000 {
		row.At = float64(n) / 10
		r.Append(row)
	}
	hour := r.Bytes()
	if got := heap() - before; math.Abs(float64(got-hour)) > 0.04*float64(hour) {
		t.Errorf("Bytes says %d, the heap grew by %d", hour, got)
	}
	for n := range 9000 { // a bucket in each tier with every row
		row.At = 3700 + 10*float64(n)
		r.Append(row)
	}
	day := r.Bytes()
	t.Logf("100 channels: %.1f MiB after an hour, %.1f MiB after a day", mib(hour), mib(day))
	if mib(hour) > 40 || mib(day) > 56 {
		t.Error("too much")
	}
	runtime.KeepAlive(r)
}

func mib(n int) float64 { return float64(n) / (1 << 20) }

func heap() int {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int(m.HeapAlloc)
}

func TestAppendAllocatesNothing(t *testing.T) {
	r := New(testSize, 100)
	var row telemetry.Row
	n := 0
	next := func() { r.Append(rowOf(n, 100, &row)); n++ }
	for range 3000 {
		next()
	}
	if a := testing.AllocsPerRun(1000, next); a != 0 {
		t.Errorf("%v allocations a row", a)
	}
	var b Block
	r.Rows(r.Last()-20, 20, &b)
	if a := testing.AllocsPerRun(100, func() { r.Rows(r.Last()-20, 20, &b) }); a != 0 {
		t.Errorf("%v allocations a Rows", a)
	}
}

func BenchmarkAppend100(b *testing.B) {
	r := New(Config{}, 100)
	var row telemetry.Row
	rowOf(0, 100, &row)
	n := 0
	for b.Loop() {
		row.At = float64(n) / 10
		r.Append(row)
		n++
	}
}

func filled(channels int) *Ring {
	r := New(Config{}, channels)
	var row telemetry.Row
	rowOf(0, channels, &row)
	for n := range 72000 {
		row.At = float64(n) / 10
		r.Append(row)
	}
	return r
}

func BenchmarkRows600of100(b *testing.B) {
	r := filled(100)
	var block Block
	for b.Loop() {
		r.Rows(r.Last()-900, 600, &block)
	}
}

func BenchmarkHistory2hOf100(b *testing.B) {
	r := filled(100)
	b.ReportAllocs()
	for b.Loop() {
		r.Buckets(0, math.Inf(1), 2000)
	}
}
