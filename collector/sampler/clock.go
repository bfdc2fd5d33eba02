package sampler

import (
	"context"
	"sync/atomic"
	"time"
)

// Clock is the sampler's time. Only one goroutine may Sleep; the rest may be asked by any.
type Clock interface {
	// Now is the time since the clock was made, sleep of the machine included where
	// the system can tell, and how much of it the machine slept.
	Now() (now, slept time.Duration)
	// Sleep returns when Now reaches until, or at once with the reason when ctx ends.
	Sleep(ctx context.Context, until time.Duration) error
	// Allow is the real time that readers may take where span of the clock's is meant.
	Allow(span time.Duration) time.Duration
}

// Real gives the machine's own clock, for one sampler.
func Real() Clock {
	c := &realClock{start: time.Now(), timer: time.NewTimer(time.Hour), before: sleptSinceBoot()}
	c.timer.Stop()
	return c
}

type realClock struct {
	start  time.Time // with monotonic reading, which stops while a Linux machine sleeps
	before time.Duration
	slept  atomic.Int64
	timer  *time.Timer
}

func (c *realClock) Now() (now, slept time.Duration) {
	slept = time.Duration(c.slept.Load())
	return time.Since(c.start) + slept, slept
}

func (c *realClock) Sleep(ctx context.Context, until time.Duration) error {
	defer c.look()
	now, _ := c.Now()
	if now >= until {
		return ctx.Err()
	}
	c.timer.Reset(until - now)
	defer c.timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-c.timer.C:
		return nil
	}
}

// look asks how long the machine has slept. The two clocks behind the answer are not read
// at the same instant, so that less than 0.1 s is no sleep.
func (c *realClock) look() {
	s := sleptSinceBoot() - c.before
	if s-time.Duration(c.slept.Load()) > 100*time.Millisecond {
		c.slept.Store(int64(s))
	}
}

func (c *realClock) Allow(span time.Duration) time.Duration { return span }

// Simulated gives a clock for computed or recorded machines: it stands still while the
// sampler works and runs speed times as fast as real time between ticks; at speed 0 a
// sleep takes no time at all. A tick that takes too long slows it down; none is skipped.
func Simulated(speed float64) Clock {
	c := &simulated{speed: speed, wake: time.Now(), timer: time.NewTimer(time.Hour)}
	c.timer.Stop()
	return c
}

type simulated struct {
	speed float64
	now   atomic.Int64
	wake  time.Time // the real time that now stands for
	timer *time.Timer
}

// allowance is how long, in real time, a reader of a simulated machine may take.
const allowance = 5 * time.Second

func (c *simulated) Now() (now, slept time.Duration) { return time.Duration(c.now.Load()), 0 }

func (c *simulated) Sleep(ctx context.Context, until time.Duration) error {
	step := until - time.Duration(c.now.Load())
	if step <= 0 {
		return ctx.Err()
	}
	if c.speed > 0 {
		c.pause(ctx, time.Duration(float64(step)/c.speed))
	}
	c.now.Store(int64(until))
	return ctx.Err()
}

// pause waits until span after the last wake; a wake that has passed moves to now.
func (c *simulated) pause(ctx context.Context, span time.Duration) {
	c.wake = c.wake.Add(span)
	rest := time.Until(c.wake)
	if rest <= 0 {
		c.wake = c.wake.Add(-rest)
		return
	}
	c.timer.Reset(rest)
	defer c.timer.Stop()
	select {
	case <-ctx.Done():
	case <-c.timer.C:
	}
}

func (c *simulated) Allow(time.Duration) time.Duration { return allowance }
