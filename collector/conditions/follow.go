package conditions

import (
	"context"
	"math"
	"time"

	"soakline/collector/ring"
	"soakline/collector/session"
	"soakline/collector/telemetry"
)

// lookRows bounds how many rows are looked at between two looks at the context.
const lookRows = 600

// Follow marks every change in s until ctx ends or the session does. It looks about once
// a second and never delays a sample.
func Follow(ctx context.Context, s *session.Session) {
	wake, stop := s.Follow()
	defer stop()
	f := follower{session: s}
	few := uint64(max(1, time.Second/max(s.Info().Period, time.Millisecond)))
	for {
		select {
		case <-ctx.Done():
			return
		case <-wake:
		}
		_, over := s.Ended()
		if over || s.Ring().Last() >= f.after+few {
			for f.look() && ctx.Err() == nil {
			}
		}
		if over {
			return
		}
	}
}

type follower struct {
	session *session.Session
	watcher Watcher
	after   uint64
	block   ring.Block
}

// look goes through rows that are new and says whether more may wait.
func (f *follower) look() (more bool) {
	n, _ := f.session.Ring().Rows(f.after, lookRows, &f.block)
	if n == 0 {
		return false
	}
	chs, _ := f.session.Channels()
	b := &f.block
	for i := range b.N {
		from, to := i*b.Channels, (i+1)*b.Channels
		for _, c := range f.watcher.Row(chs, b.At[i], b.Values[from:to], b.States[from:to]) {
			f.session.Mark(telemetry.Mark{At: math.Max(0, c.At), Kind: telemetry.MarkMachine, Text: c.Text})
		}
	}
	f.after = b.First + uint64(n) - 1
	return n == lookRows
}
