package relay

import (
	"context"
	"fmt"
	"math"
	"sync/atomic"
	"time"

	"soakline/collector/telemetry"
)

// Clock is the time of the other computer's rows, from 0 at the first; while there are
// none it goes on by this computer's.
type Clock struct {
	source *Source
	now    atomic.Int64

	// of the one who sleeps
	session string
	shift   float64 // s, from the other session's time to this clock's; NaN: not known yet
	started bool
	last    time.Duration // this clock's time of the last row,
	came    time.Time     // and when it came
	silent  bool
	skipped int // rows that came after their time
}

// Now is the time of the row that was given last.
func (c *Clock) Now() (now, slept time.Duration) { return time.Duration(c.now.Load()), 0 }

// Allow is the time itself: local readers are real.
func (c *Clock) Allow(span time.Duration) time.Duration { return span }

// Sleep returns with the next row, whenever that was due; while there is none, for so
// long that contact is lost, it returns when it is until.
func (c *Clock) Sleep(ctx context.Context, until time.Duration) error {
	if c.came.IsZero() {
		c.came = time.Now()
	}
	for {
		wait := c.source.cfg.Patience - time.Since(c.came)
		if c.silent {
			wait = until - c.real()
		}
		if wait <= 0 {
			select { // a row that is there comes first
			case it := <-c.source.items:
				if c.take(it) {
					return ctx.Err()
				}
				continue
			default:
			}
			if c.silent {
				c.stand(until)
				return ctx.Err()
			}
			c.lose()
			continue
		}
		timer := time.NewTimer(wait)
		select {
		case it := <-c.source.items:
			timer.Stop()
			if c.take(it) {
				return ctx.Err()
			}
		case <-timer.C:
		case <-ctx.Done():
			timer.Stop()
			return ctx.Err()
		}
	}
}

// real is what this clock would show by this computer's time.
func (c *Clock) real() time.Duration { return c.last + time.Since(c.came) }

// stand makes a tick without a row.
func (c *Clock) stand(at time.Duration) {
	c.now.Store(int64(max(at, time.Duration(c.now.Load()))))
	c.source.show(nil)
}

// lose says that contact was lost, at the time of the last row.
func (c *Clock) lose() {
	c.silent = true
	c.source.note(c.last, telemetry.MarkMachine, fmt.Sprintf("contact lost: %s went silent", c.source.Host()))
}

// take handles what came; true: it is a row, and the clock stands at it.
func (c *Clock) take(it item) bool {
	if it.layout.Session.ID != c.session {
		if c.session != "" {
			c.source.note(c.real(), telemetry.MarkMachine, fmt.Sprintf("%s began another session, %s", it.layout.Session.Host, it.layout.Session.ID))
		}
		c.session, c.shift = it.layout.Session.ID, math.NaN()
	}
	switch {
	case it.isRow:
		return c.takeRow(it)
	case it.text != "":
		c.source.note(c.real(), telemetry.MarkMachine, it.text)
	case it.mark != nil && !math.IsNaN(c.shift):
		kind := telemetry.MarkKind(it.mark.Kind)
		if kind != telemetry.MarkUser && kind != telemetry.MarkCommand {
			kind = telemetry.MarkMachine
		}
		c.source.note(span(it.mark.AtS+c.shift), kind, it.mark.Text)
	}
	return false
}

func (c *Clock) takeRow(it item) bool {
	now := time.Duration(c.now.Load())
	if math.IsNaN(c.shift) {
		at := it.row.Lateness // its tick is due at 0
		if c.started {
			at = max(c.real(), now+time.Millisecond)
		}
		c.shift = at.Seconds() - it.row.At
	}
	own := span(it.row.At + c.shift)
	if c.started && own <= now {
		c.skipped++
		return false
	}
	if c.silent {
		c.silent = false
		text := fmt.Sprintf("contact with %s again, after %.0f s", it.layout.Session.Host, (own - c.last).Seconds())
		if c.skipped > 0 {
			text += fmt.Sprintf("; %d rows of the time between came too late for this session, its own holds them", c.skipped)
		}
		c.source.note(own, telemetry.MarkMachine, text)
	}
	c.started, c.skipped = true, 0
	c.last, c.came = own, time.Now()
	c.now.Store(int64(own))
	c.source.show(&it)
	return true
}

func span(seconds float64) time.Duration {
	return time.Duration(math.Round(seconds * float64(time.Second)))
}

// show sets the row that the readers give.
func (s *Source) show(it *item) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.row = it
	s.begun = s.begun || it != nil
}

// note keeps a mark until the sampler asks for it.
func (s *Source) note(at time.Duration, kind telemetry.MarkKind, text string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.marks = append(s.marks, telemetry.Mark{At: at.Seconds(), Kind: kind, Text: text})
}
