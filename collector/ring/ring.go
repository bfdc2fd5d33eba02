package ring

import (
	"math"
	"sync/atomic"
	"time"

	"soakline/collector/telemetry"
)

// Config sizes a Ring. The zero value of a field takes the default beside it.
type Config struct {
	Period  time.Duration // of the rows, 100 ms
	RawSpan time.Duration // every row is kept for at least so long, 1 h, or 36000 rows (a minute at least) where that is less
	Tiers   []Tier        // from fine to coarse, 1 s for 2 h and 10 s for 24 h; none wider than RawSpan
}

// Tier keeps buckets of Width for Span.
type Tier struct{ Width, Span time.Duration }

func (c Config) filled() Config {
	if c.Period <= 0 {
		c.Period = 100 * time.Millisecond
	}
	if c.RawSpan <= 0 {
		c.RawSpan = max(min(time.Hour, 36000*c.Period), time.Minute)
	}
	if len(c.Tiers) == 0 {
		c.Tiers = []Tier{{time.Second, 2 * time.Hour}, {10 * time.Second, 24 * time.Hour}}
	}
	return c
}

// Ring is a session's memory. Append and Extend belong to one goroutine; everything else
// may be called by any, at any time.
type Ring struct {
	raw     *table[rawHead, rawColumn]
	tiers   []*tier
	newest  atomic.Uint64 // bits of the newest row's time
	refused atomic.Uint64
}

type rawHead struct {
	at   float64
	late time.Duration
}

type rawColumn struct {
	values []float64
	states []telemetry.State
}

func blankRaw(rows int) rawColumn {
	c := rawColumn{make([]float64, rows), make([]telemetry.State, rows)}
	for i := range c.values {
		c.values[i] = math.NaN()
	}
	return c
}

// New makes an empty ring for rows of so many channels. It takes memory as rows come.
func New(cfg Config, channels int) *Ring {
	cfg = cfg.filled()
	r := &Ring{raw: newTable[rawHead](int(cfg.RawSpan/cfg.Period)+1, channels, blankRaw)}
	for _, t := range cfg.Tiers {
		r.tiers = append(r.tiers, newTier(t, channels))
	}
	return r
}

// Append takes the next row and numbers it Last()+1, whatever its Seq says; values and
// states that it lacks are "no data", surplus ones are ignored. A row whose time is negative,
// not finite or before the newest one is refused: false, and nothing has changed.
func (r *Ring) Append(row telemetry.Row) bool {
	if !(row.At >= r.Now()) || math.IsInf(row.At, 1) {
		r.refused.Add(1)
		return false
	}
	c, i := r.raw.next()
	c.heads[i] = rawHead{row.At, row.Lateness}
	for k, col := range *c.cols.Load() {
		if k < len(row.Values) && k < len(row.States) {
			col.values[i], col.states[i] = row.Values[k], row.States[k]
		} else {
			col.values[i], col.states[i] = math.NaN(), telemetry.NoData
		}
	}
	r.raw.publish()
	r.newest.Store(math.Float64bits(row.At))
	for _, t := range r.tiers {
		t.add(row, r.raw.last.Load())
	}
	return true
}

// Extend adds n channels behind the others. Rows from before have no data in them.
func (r *Ring) Extend(n int) {
	if n <= 0 {
		return
	}
	for _, t := range r.tiers {
		t.extend(n)
	}
	r.raw.extend(n)
}

// Channels is how many channels a row has now.
func (r *Ring) Channels() int { return int(r.raw.width.Load()) }

// Last is the number of the newest row, 0 before the first.
func (r *Ring) Last() uint64 { return r.raw.last.Load() }

// First is the number of the oldest row still held, 0 before the first. It may be gone
// by the time it is asked for; Rows says so.
func (r *Ring) First() uint64 { return r.raw.first() }

// Now is the time of the newest row in seconds, 0 before the first.
func (r *Ring) Now() float64 { return math.Float64frombits(r.newest.Load()) }

// Refused counts the rows that Append did not take.
func (r *Ring) Refused() uint64 { return r.refused.Load() }

// Bytes is the memory that the ring's columns take now, row heads included.
func (r *Ring) Bytes() int {
	const head, cell = 16, 8 + 1
	n := r.raw.held() * r.raw.rows * (head + cell*r.Channels())
	for _, t := range r.tiers {
		const head, cell = 16, 3*4 + 2
		n += t.table.held() * t.table.rows * (head + cell*r.Channels())
	}
	return n
}
