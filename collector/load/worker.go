package load

import (
	"math"
	"runtime"
	"sync/atomic"
	"time"

	"soakline/collector/load/spec"
)

// Wrong is units of work with a wrong result: the newest of them, and how many came since
// the worker told of one before.
type Wrong struct {
	Worker int // from 0
	CPU    int // the processor that the worker is held to; -1 where it is not
	Kind   spec.Kind
	At     time.Duration // since the load began
	Units  int
}

// tellEvery is how often a worker tells of wrong results, so that a machine that computes
// nothing right does not spend its time saying so.
const tellEvery = time.Second

// worker runs kernels on one thread.
type worker struct {
	number  int
	cpu     int // -1: wherever the system puts it
	kinds   []spec.Kind
	kernels []kernel
	share   *atomic.Uint64 // busy share as float64 bits, common to all
	cycle   time.Duration
	begun   time.Time
	wrong   func(Wrong)

	missed int           // wrong results not told of
	told   time.Duration // when the last was told of

	done atomic.Uint64
	_    [56]byte // a cache line of its own beside the next worker's count
}

// run works until stop is closed. It looks at stop after every unit, and while it waits.
func (w *worker) run(stop <-chan struct{}) error {
	runtime.LockOSThread() // not unlocked: a thread held to one processor ends with its goroutine
	giveWay()
	if w.cpu >= 0 {
		if err := pin(w.cpu); err != nil {
			return err
		}
	}
	idle := time.NewTimer(time.Hour)
	defer idle.Stop()
	for i := 0; ; i = (i + 1) % len(w.kernels) {
		select {
		case <-stop:
			w.tell(w.kinds[i], 0)
			return nil
		default:
		}
		if rest := w.pause(time.Since(w.begun)); rest > 0 {
			idle.Reset(rest)
			select {
			case <-stop:
				return nil
			case <-idle.C:
			}
			continue
		}
		if !w.kernels[i].run() {
			w.missed++
			w.tell(w.kinds[i], tellEvery)
		}
		w.done.Add(1)
	}
}

// tell tells of wrong results, unless one was told of less than after ago.
func (w *worker) tell(k spec.Kind, after time.Duration) {
	at := time.Since(w.begun)
	if w.missed == 0 || w.told > 0 && at-w.told < after {
		return
	}
	w.wrong(Wrong{w.number, w.cpu, k, at, w.missed})
	w.missed, w.told = 0, at
}

// pause is how long the worker waits at an instant: it works for its share from the start
// of every cycle, all workers together.
func (w *worker) pause(at time.Duration) time.Duration {
	share := math.Float64frombits(w.share.Load())
	if share >= 1 {
		return 0
	}
	within := at % w.cycle
	if within < time.Duration(share*float64(w.cycle)) {
		return 0
	}
	return w.cycle - within
}
