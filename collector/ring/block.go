package ring

import (
	"math"
	"slices"
	"time"

	"soakline/collector/telemetry"
)

// Block is a run of rows copied out of a ring, row after row. Its slices are used again
// when it is filled anew, so that a follower with one Block allocates nothing.
type Block struct {
	First    uint64 // the number of row 0; the others follow without holes
	N        int    // rows
	Channels int
	At       []float64         // [N] s
	Lateness []time.Duration   // [N]
	Values   []float64         // [N*Channels], row by row
	States   []telemetry.State // [N*Channels], row by row
}

// Row is row i of the block. Its slices are the block's own.
func (b *Block) Row(i int) telemetry.Row {
	lo, hi := i*b.Channels, (i+1)*b.Channels
	return telemetry.Row{Seq: b.First + uint64(i), At: b.At[i], Lateness: b.Lateness[i],
		Values: b.Values[lo:hi:hi], States: b.States[lo:hi:hi]}
}

func (b *Block) reset(first uint64, rows, channels int) {
	b.First, b.N, b.Channels = first, 0, channels
	b.At = slices.Grow(b.At[:0], rows)[:rows]
	b.Lateness = slices.Grow(b.Lateness[:0], rows)[:rows]
	b.Values = slices.Grow(b.Values[:0], rows*channels)[:rows*channels]
	b.States = slices.Grow(b.States[:0], rows*channels)[:rows*channels]
}

func (b *Block) trim(rows int) {
	b.N = rows
	b.At, b.Lateness = b.At[:rows], b.Lateness[:rows]
	b.Values, b.States = b.Values[:rows*b.Channels], b.States[:rows*b.Channels]
}

// Rows copies the rows after number after into dst, max of them at most, and gives how
// many. gap is true where rows directly after it are no longer held: dst then begins
// with the oldest one that is (dst.First says which). Nothing newer is 0 and no gap.
func (r *Ring) Rows(after uint64, max int, dst *Block) (n int, gap bool) {
	from := after + 1
	for {
		last := r.raw.last.Load()
		if first := r.raw.firstAt(last); from < first {
			from, gap = first, true
		}
		if last < from || max <= 0 {
			dst.reset(from, 0, r.Channels())
			return 0, gap
		}
		rows := int(min(last-from+1, uint64(max)))
		dst.reset(from, rows, r.Channels())
		if n = r.fill(from, rows, dst); n > 0 {
			dst.trim(n)
			return n, gap
		}
		// The oldest chunk was taken for new rows while we looked: begin after it.
		from, gap = (from-1)/uint64(r.raw.rows)*uint64(r.raw.rows)+uint64(r.raw.rows)+1, true
	}
}

// fill copies up to rows rows from number from on and gives how many were still held.
func (r *Ring) fill(from uint64, rows int, dst *Block) (done int) {
	for done < rows {
		seq := from + uint64(done)
		c := r.raw.pin(seq)
		if c == nil {
			return done
		}
		lo := int(seq - c.base - 1)
		n := min(rows-done, int(c.n.Load())-lo)
		copyRows(c, lo, n, dst, done)
		c.unpin()
		done += n
	}
	return done
}

func copyRows(c *chunk[rawHead, rawColumn], lo, n int, dst *Block, at int) {
	for i := range n {
		dst.At[at+i], dst.Lateness[at+i] = c.heads[lo+i].at, c.heads[lo+i].late
	}
	cols := *c.cols.Load()
	for k := range dst.Channels {
		to := at*dst.Channels + k
		for i := range n {
			if k < len(cols) {
				dst.Values[to], dst.States[to] = cols[k].values[lo+i], cols[k].states[lo+i]
			} else {
				dst.Values[to], dst.States[to] = math.NaN(), telemetry.NoData
			}
			to += dst.Channels
		}
	}
}
