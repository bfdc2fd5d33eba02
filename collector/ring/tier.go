package ring

import (
	"math"
	"slices"

	"soakline/collector/telemetry"
)

// tier is a table of closed buckets on the grid floor(t/width), without the empty ones,
// and the writer's bucket that is still open. A bucket closes when a row of a later one
// comes; until then readers work it out from the rows.
type tier struct {
	table *table[bucketHead, bucketColumn]
	width float64 // s

	index int64 // of the open bucket
	last  uint64
	open  []cell
}

type bucketHead struct {
	index int64  // of the bucket on the grid
	last  uint64 // the newest row in it
}

// bucketColumn holds what the usable values of each bucket come to; NaN where n is 0.
type bucketColumn struct {
	min, mean, max []float32
	n              []uint16
}

func blankBuckets(rows int) bucketColumn {
	nan := slices.Repeat([]float32{float32(math.NaN())}, rows)
	return bucketColumn{nan, slices.Clone(nan), slices.Clone(nan), make([]uint16, rows)}
}

func newTier(t Tier, channels int) *tier {
	return &tier{table: newTable[bucketHead](int(t.Span/t.Width)+1, channels, blankBuckets),
		width: t.Width.Seconds(), open: make([]cell, channels)}
}

func (t *tier) extend(n int) {
	t.open = append(t.open, make([]cell, n)...)
	t.table.extend(n)
}

// add puts a row into the open bucket, closing that first if the row lies beyond it.
func (t *tier) add(row telemetry.Row, seq uint64) {
	if i := grid(row.At, t.width); i != t.index || t.last == 0 {
		if t.last > 0 {
			t.close()
		}
		t.index = i
	}
	t.last = seq
	for k := range min(len(t.open), len(row.Values), len(row.States)) {
		if row.States[k].Usable() {
			t.open[k].add(row.Values[k])
		}
	}
}

func (t *tier) close() {
	c, i := t.table.next()
	c.heads[i] = bucketHead{t.index, t.last}
	for k, col := range *c.cols.Load() {
		o := &t.open[k]
		col.min[i], col.mean[i], col.max[i] = o.result()
		col.n[i] = uint16(min(o.n, math.MaxUint16))
		*o = cell{}
	}
	t.table.publish()
}

// grid is the number of the bucket of this width that holds time t.
func grid(t, width float64) int64 { return int64(math.Floor(t / width)) }

// cell gathers the usable values of one channel in one bucket. The zero cell is empty.
type cell struct {
	min, max, sum float64
	n             int
}

func (c *cell) add(v float64) { c.merge(v, v, v, 1) }

// merge takes in n values of which the extremes and the mean are known.
func (c *cell) merge(lo, mean, hi float64, n int) {
	switch {
	case n == 0 || math.IsNaN(mean):
		return
	case c.n == 0:
		c.min, c.max = lo, hi
	default:
		c.min, c.max = min(c.min, lo), max(c.max, hi)
	}
	c.sum += mean * float64(n)
	c.n += n
}

// result is minimum, mean and maximum, NaN if there was no value. Rounding never puts
// the mean outside the other two.
func (c *cell) result() (lo, mean, hi float32) {
	if c.n == 0 {
		nan := float32(math.NaN())
		return nan, nan, nan
	}
	m := min(max(c.sum/float64(c.n), c.min), c.max)
	return float32(c.min), float32(m), float32(c.max)
}
