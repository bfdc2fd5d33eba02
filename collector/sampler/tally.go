package sampler

import (
	"math"
	"math/bits"
	"sync/atomic"
	"time"
)

// tally counts ticks and how late they were, in buckets a quarter octave wide from 1 us.
type tally struct {
	ticks, skipped atomic.Uint64
	worst          atomic.Int64
	late           [128]atomic.Uint32
}

// Stats is how punctual the ticks were. Percentiles are upper edges of buckets that are
// at most a quarter wider than the value.
type Stats struct {
	Ticks, Skipped            uint64
	LateP50, LateP99, LateMax time.Duration
}

func (t *tally) tick(late time.Duration) {
	late = max(late, 0)
	t.ticks.Add(1)
	t.late[lateBucket(late)].Add(1)
	if late > time.Duration(t.worst.Load()) {
		t.worst.Store(int64(late))
	}
}

func (t *tally) skip(n int64) { t.skipped.Add(uint64(n)) }

// lateBucket numbers the span 4/4, 5/4, 6/4, 7/4 times a power of two microseconds.
func lateBucket(d time.Duration) int {
	us := uint64(d / time.Microsecond)
	if us < 4 {
		return int(us)
	}
	octave := bits.Len64(us) - 1
	return min(4*(octave-1)+int(us>>(octave-2)&3), 127)
}

// bucketEdge is the upper edge of a bucket.
func bucketEdge(b int) time.Duration {
	if b < 3 {
		return time.Duration(b+1) * time.Microsecond
	}
	b++
	return time.Duration((4+b%4)<<(b/4-1)) * time.Microsecond
}

// Stats gives the account so far; any goroutine may ask.
func (s *Sampler) Stats() Stats {
	t := &s.tally
	st := Stats{Ticks: t.ticks.Load(), Skipped: t.skipped.Load(), LateMax: time.Duration(t.worst.Load())}
	st.LateP50, st.LateP99 = min(t.quantile(0.5), st.LateMax), min(t.quantile(0.99), st.LateMax)
	return st
}

func (t *tally) quantile(q float64) time.Duration {
	var all uint64
	for i := range t.late {
		all += uint64(t.late[i].Load())
	}
	need, seen := uint64(math.Ceil(q*float64(all))), uint64(0)
	for i := range t.late {
		if seen += uint64(t.late[i].Load()); seen >= need && need > 0 {
			return bucketEdge(i)
		}
	}
	return 0
}
