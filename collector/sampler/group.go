package sampler

import (
	"log/slog"
	"math"
	"sync"
	"sync/atomic"
	"time"

	"soakline/collector/telemetry"
)

// group is a telemetry.Group at work. The first part belongs to whoever reads it at the
// moment, the second to the goroutine that drives the ticks; phase and the watch's lock hand over.
type group struct {
	name   string
	from   *source
	reader telemetry.Reader
	cost   cost

	buf     []telemetry.Reading
	began   time.Duration
	took    time.Duration
	rested  bool // tell the reader that the machine slept
	paniced bool // said so already

	keys    []string            // by channel
	columns []int               // of the row, by channel; -1 is left out
	last    []telemetry.Reading // as handed in last
	handed  time.Duration       // when that was measured
	fresh   bool                // handed in for this tick
	lost    atomic.Bool         // the read did not come back
	slept   bool                // the machine slept since the last read
	due     time.Duration
	every   time.Duration // as the source said
	pace    time.Duration // as it is read

	slow    atomic.Bool
	always  bool // the source says that it is slow
	streak  int  // reads in a row on the wrong side of the limit
	returns int  // how often it came back among the fast ones
	phase   atomic.Int32
	ask     chan struct{} // of a slow group's goroutine
	retired atomic.Bool
	closing sync.Once
}

// The phases of a slow group.
const (
	idle int32 = iota
	reading
	handedIn
)

// read fills buf. It is the only place that calls a Reader.
func (g *group) read(clock Clock, log *slog.Logger) {
	g.began, _ = clock.Now()
	clear(g.buf)
	g.call(log)
	end, _ := clock.Now()
	g.took = end - g.began
	g.cost.add(g.took)
}

func (g *group) call(log *slog.Logger) {
	defer func() {
		if r := recover(); r != nil {
			for i := range g.buf {
				g.buf[i] = telemetry.Reading{State: telemetry.GapIO}
			}
			if !g.paniced {
				g.paniced = true
				log.Error("a reader panicked; its channels are gaps", "source", g.from.name, "group", g.name, "panic", r)
			}
		}
	}()
	if g.rested {
		g.rested = false
		if r, ok := g.reader.(Resumer); ok {
			r.Resumed()
		}
	}
	g.reader.Read(g.began, g.buf)
}

// collect takes over what the reader left in buf.
func (g *group) collect() {
	for i, r := range g.buf {
		switch {
		case !r.State.Usable():
			r.Value = math.NaN()
		case math.IsNaN(r.Value) || math.IsInf(r.Value, 0):
			r = telemetry.Reading{Value: math.NaN(), State: telemetry.GapImplausible}
		}
		if r.State == telemetry.GapGone {
			g.from.gone = true
		}
		g.last[i] = r
	}
	g.handed, g.fresh = g.began, true
	g.lost.Store(false)
}

// isDue says whether the group wants to be read in the tick at now, and moves its next
// time on by whole steps. Half a tick early is in time.
func (g *group) isDue(now, period time.Duration) bool {
	if now < g.due-period/2 {
		return false
	}
	if g.due += g.pace; g.due < now {
		g.due = now + g.pace
	}
	return true
}

// hand gives the group over to whoever reads it next.
func (g *group) hand() *group {
	g.rested, g.slept = g.slept, false
	return g
}

// wake forgets what was read before the machine slept.
func (g *group) wake(now time.Duration) {
	for i := range g.last {
		g.last[i] = telemetry.Reading{Value: math.NaN(), State: telemetry.GapSuspended}
	}
	g.due, g.handed, g.slept = now, now, true
}

// put writes the group's channels into the row.
func (g *group) put(now, period time.Duration, values []float64, states []telemetry.State) {
	fresh, lost := g.fresh, g.lost.Load() || now-g.handed > max(g.pace, period)*5/2
	g.fresh = false
	for i, c := range g.columns {
		if c < 0 {
			continue
		}
		r := g.last[i]
		switch {
		case fresh:
		case lost:
			r = telemetry.Reading{Value: math.NaN(), State: telemetry.GapTimeout}
		case r.State == telemetry.Fresh:
			r.State = telemetry.Held
		}
		values[c], states[c] = r.Value, r.State
	}
}

// work reads a slow group whenever it is asked, until ask is closed.
func (g *group) work(ask <-chan struct{}, clock Clock, log *slog.Logger) {
	for range ask {
		g.read(clock, log)
		g.phase.Store(handedIn)
	}
	if g.retired.Load() {
		g.close(log)
	}
}

// close closes the reader once; nobody may be reading.
func (g *group) close(log *slog.Logger) {
	g.closing.Do(func() {
		defer func() {
			if r := recover(); r != nil {
				log.Error("closing a reader panicked", "source", g.from.name, "group", g.name, "panic", r)
			}
		}()
		if err := g.reader.Close(); err != nil {
			log.Debug("closing a reader", "source", g.from.name, "group", g.name, "error", err)
		}
	})
}
