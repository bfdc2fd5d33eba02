package ring

import "math"

// Buckets is a span of time in equal pieces on the absolute grid: bucket b holds the
// rows with From + b*Width <= t < From + (b+1)*Width. The three planes are ordered by
// channel: channel c in bucket b is at [c*N+b]. NaN is "no usable value". Figures are
// float32: good for drawing; masks and long counters are exact in the rows alone.
type Buckets struct {
	From, Width    float64 // s
	N, Channels    int
	Last           uint64 // the newest row that is in a bucket, 0 if none is
	Min, Mean, Max []float32
}

// Buckets gives the span from..to (s, both ends included) in at most max buckets. It
// reads the finest tier that still covers the span, else the coarsest; the width is
// that tier's, times 1, 2, 5, 10, 20 ... so that few enough come out. The span is cut to
// what the ring has.
func (r *Ring) Buckets(from, to float64, max int) Buckets {
	oldest, ok := r.oldest()
	to = min(to, r.Now())
	if from = math.Max(from, oldest); !ok || max < 1 || !(from <= to) {
		return Buckets{Channels: r.Channels()}
	}
	for i, t := range r.tiers {
		width := t.widthFor(from, to, max)
		first := grid(from, width)
		if i < len(r.tiers)-1 && !t.covers(float64(first)*width) {
			continue
		}
		f := folder{first: first, width: width, n: int(grid(to, width)-first) + 1, channels: r.Channels()}
		f.cells = make([]cell, f.n*f.channels)
		r.fold(t, &f)
		return f.buckets()
	}
	return Buckets{Channels: r.Channels()}
}

// widthFor is the narrowest width of 1, 2, 5, 10, 20 ... buckets of t with which from..to
// falls into max of them.
func (t *tier) widthFor(from, to float64, max int) float64 {
	width := t.width
	for k := 0; grid(to, width)-grid(from, width)+1 > int64(max); k++ {
		width = t.width * [...]float64{2, 5, 10}[k%3] * math.Pow(10, float64(k/3))
	}
	return width
}

// oldest is the earliest time of which anything is held.
func (r *Ring) oldest() (s float64, ok bool) {
	s = math.Inf(1)
	for _, t := range r.tiers {
		if b, ok := t.oldest(); ok {
			s = min(s, float64(b)*t.width)
		}
	}
	if seq := r.First(); seq > 0 {
		if c := r.raw.pin(seq); c != nil {
			s = min(s, c.heads[0].at)
			c.unpin()
		}
	}
	return s, !math.IsInf(s, 1)
}

// oldest is the grid number of the oldest closed bucket held.
func (t *tier) oldest() (index int64, ok bool) {
	for {
		seq := t.table.first()
		if seq == 0 {
			return 0, false
		}
		if c := t.table.pin(seq); c != nil {
			defer c.unpin()
			return c.heads[0].index, true
		}
	}
}

// covers says whether t has lost nothing from time from on.
func (t *tier) covers(from float64) bool {
	if t.table.first() <= 1 {
		return true
	}
	b, ok := t.oldest()
	return ok && b <= grid(from, t.width)
}

// fold gathers the closed buckets of t, then the rows that are newer than those.
func (r *Ring) fold(t *tier, f *folder) {
	end := t.table.last.Load()
	var last uint64 // the newest row in a closed bucket
	for seq := t.table.firstAt(end); seq > 0 && seq <= end; {
		c := t.table.pin(seq)
		if c == nil { // taken for new buckets while we looked
			seq = (seq-1)/uint64(t.table.rows)*uint64(t.table.rows) + uint64(t.table.rows) + 1
			continue
		}
		n := min(end-c.base, uint64(t.table.rows))
		f.closed(t, c, int(seq-c.base-1), int(n))
		last, seq = c.heads[n-1].last, c.base+n+1
		c.unpin()
	}
	var b Block
	for newest := r.Last(); last < newest; last = b.First + uint64(b.N) - 1 {
		if n, _ := r.Rows(last, 600, &b); n == 0 {
			return
		}
		f.rows(&b)
	}
}

// folder gathers buckets and rows into wider buckets.
type folder struct {
	first       int64
	width       float64
	n, channels int
	last        uint64
	cells       []cell
}

// place is the bucket for a time, -1 if it lies outside.
func (f *folder) place(at float64) int {
	if i := grid(at, f.width) - f.first; i >= 0 && i < int64(f.n) {
		return int(i)
	}
	return -1
}

// closed takes in the buckets lo..hi of a chunk, column by column.
func (f *folder) closed(t *tier, c *chunk[bucketHead, bucketColumn], lo, hi int) {
	var places [maxChunk]int
	for i := lo; i < hi; i++ {
		// The middle of the bucket, clear of rounding at its edges.
		places[i] = f.place((float64(c.heads[i].index) + 0.5) * t.width)
		if places[i] >= 0 {
			f.last = max(f.last, c.heads[i].last)
		}
	}
	cols := *c.cols.Load()
	for k := range min(len(cols), f.channels) {
		col, cells := &cols[k], f.cells[k*f.n:(k+1)*f.n]
		for i := lo; i < hi; i++ {
			if b := places[i]; b >= 0 && col.n[i] > 0 {
				cells[b].merge(float64(col.min[i]), float64(col.mean[i]), float64(col.max[i]), int(col.n[i]))
			}
		}
	}
}

func (f *folder) rows(rows *Block) {
	for i := range rows.N {
		b := f.place(rows.At[i])
		if b < 0 {
			continue
		}
		f.last = max(f.last, rows.First+uint64(i))
		row := rows.Row(i)
		for k := range min(rows.Channels, f.channels) {
			if row.States[k].Usable() {
				f.cells[k*f.n+b].add(row.Values[k])
			}
		}
	}
}

func (f *folder) buckets() Buckets {
	n := len(f.cells)
	b := Buckets{From: float64(f.first) * f.width, Width: f.width, N: f.n, Channels: f.channels, Last: f.last,
		Min: make([]float32, n), Mean: make([]float32, n), Max: make([]float32, n)}
	for i := range f.cells {
		b.Min[i], b.Mean[i], b.Max[i] = f.cells[i].result()
	}
	return b
}
