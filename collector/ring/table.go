package ring

import "sync/atomic"

// table is a ring of rows in chunks of columns: H is what a row has once, C one column of
// a chunk. Rows are numbered from 1. Only one goroutine may call the writer's methods
// (next, publish, extend).
type table[H, C any] struct {
	rows  int         // rows a chunk
	blank func(int) C // makes a column whose rows all read as "no data"

	slots []atomic.Pointer[chunk[H, C]] // chunk k lives in slots[k % len(slots)]
	last  atomic.Uint64                 // the newest published row, 0 before the first
	width atomic.Int64                  // channels
	open  *chunk[H, C]                  // the writer's
}

// chunk holds rows base+1 .. base+rows, of which the first n are published.
type chunk[H, C any] struct {
	base  uint64
	n     atomic.Int64
	pins  atomic.Int32 // readers inside
	heads []H
	cols  atomic.Pointer[[]C]
}

// maxChunk is how many rows a chunk holds at most: a minute at ten rows a second.
const maxChunk = 600

// newTable makes a table that always holds the newest size rows.
func newTable[H, C any](size, width int, blank func(int) C) *table[H, C] {
	rows := min(max(size/60, 16), maxChunk)
	t := &table[H, C]{rows: rows, blank: blank}
	t.slots = make([]atomic.Pointer[chunk[H, C]], (size+rows-1)/rows+1)
	t.width.Store(int64(width))
	return t
}

// next gives the chunk and the place in it for the row that publish will make visible.
func (t *table[H, C]) next() (*chunk[H, C], int) {
	last := t.last.Load()
	i := int(last % uint64(t.rows))
	if i == 0 && (t.open == nil || t.open.base != last) {
		t.open = t.turn(last)
	}
	return t.open, i
}

// turn starts the chunk after row base, in the memory of the oldest one if nobody reads it.
func (t *table[H, C]) turn(base uint64) *chunk[H, C] {
	slot := &t.slots[base/uint64(t.rows)%uint64(len(t.slots))]
	c := slot.Swap(nil)
	// After the swap a reader that pins c finds the slot changed and lets go without
	// looking, so that a count of 0 here means that c is ours alone.
	if c == nil || c.pins.Load() != 0 {
		c = &chunk[H, C]{heads: make([]H, t.rows)}
		c.cols.Store(new([]C))
	}
	c.base = base
	c.n.Store(0)
	t.widen(c, int(t.width.Load()))
	slot.Store(c)
	return c
}

// widen adds blank columns to c. Readers that took the old list see fewer columns.
func (t *table[H, C]) widen(c *chunk[H, C], width int) {
	old := *c.cols.Load()
	if len(old) >= width {
		return
	}
	cols := make([]C, len(old), width)
	copy(cols, old)
	for len(cols) < width {
		cols = append(cols, t.blank(t.rows))
	}
	c.cols.Store(&cols)
}

// publish makes the row that next gave visible to readers.
func (t *table[H, C]) publish() {
	t.open.n.Add(1)
	t.last.Add(1)
}

// extend adds n channels. Rows from before read as "no data" in them.
func (t *table[H, C]) extend(n int) {
	w := int(t.width.Load()) + n
	if t.open != nil {
		t.widen(t.open, w)
	}
	t.width.Store(int64(w))
}

// first is the oldest row still held, 0 before the first row.
func (t *table[H, C]) first() uint64 { return t.firstAt(t.last.Load()) }

func (t *table[H, C]) firstAt(last uint64) uint64 {
	if last == 0 {
		return 0
	}
	newest := (last - 1) / uint64(t.rows)
	if held := uint64(len(t.slots)) - 1; newest > held {
		return (newest-held)*uint64(t.rows) + 1
	}
	return 1
}

// pin takes hold of the chunk with row seq; nil if that row is gone or not yet there.
// The caller must let go by unpin.
func (t *table[H, C]) pin(seq uint64) *chunk[H, C] {
	base := (seq - 1) / uint64(t.rows) * uint64(t.rows)
	slot := &t.slots[base/uint64(t.rows)%uint64(len(t.slots))]
	for {
		c := slot.Load()
		if c == nil {
			return nil
		}
		c.pins.Add(1)
		if slot.Load() != c {
			c.unpin()
			continue
		}
		if c.base != base || c.n.Load() < int64(seq-base) {
			c.unpin()
			return nil
		}
		return c
	}
}

func (c *chunk[H, C]) unpin() { c.pins.Add(-1) }

// held counts the chunks that have memory.
func (t *table[H, C]) held() (chunks int) {
	for i := range t.slots {
		if t.slots[i].Load() != nil {
			chunks++
		}
	}
	return chunks
}
