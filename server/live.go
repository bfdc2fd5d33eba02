package server

import (
	"context"
	"time"

	"soakline/analysis"
	"soakline/analysis/say"
	"soakline/collector/ring"
	"soakline/server/wire"
)

// The analysis is asked once a second; less often, where an answer takes long, so that
// it costs about a hundredth of a core, but every five seconds at least. Watching must
// not heat the machine that is watched.
const (
	answerEvery   = time.Second
	answerAtLeast = 5 * time.Second
	answerShare   = 100
)

// pace is how long an answer stands that took so long.
func pace(took time.Duration) time.Duration {
	return min(max(answerShare*took, answerEvery), answerAtLeast)
}

// live runs the analysis of the session. It reads the rows from the ring by itself, on
// its own goroutine, so that the rows of the stream never wait for it. Nobody looking,
// it only keeps up.
type live struct {
	*Server
	ask  chan chan []byte
	done chan struct{} // closed when run has ended

	// of the goroutine of run
	online  *analysis.Online
	block   ring.Block
	pad     padding
	after   uint64
	version int
	limit   float64
	body    []byte // the newest answer
	bodyOf  uint64 // the row up to which it goes
	bodyAt  time.Time
	stands  time.Duration // how long it stands from then
	line    say.Line      // what it says
}

func newLive(s *Server) *live {
	return &live{Server: s, ask: make(chan chan []byte), done: make(chan struct{})}
}

// run keeps up with the session until ctx ends. It runs once.
func (l *live) run(ctx context.Context) {
	defer close(l.done)
	tick := time.NewTicker(answerEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			l.keepUp(ctx)
			if l.stale() && l.hub.Viewers() > 0 {
				l.answer()
			}
		case reply := <-l.ask:
			l.keepUp(ctx)
			if l.stale() {
				l.answer()
			}
			reply <- l.body
		}
	}
}

// stale is true where there is something new to answer from, and the answer before has
// stood long enough. A tick may come a little early.
func (l *live) stale() bool {
	return l.body == nil || l.bodyOf != l.after && time.Since(l.bodyAt) > l.stands-answerEvery/10
}

// current is the newest answer as JSON, at most as old as its pace. It is nil where ctx
// ended first, the analysis has ended, or the answer could not be written.
func (l *live) current(ctx context.Context) []byte {
	reply := make(chan []byte, 1)
	select {
	case l.ask <- reply:
	case <-l.done:
		return l.body // run, which alone writes it, has ended
	case <-ctx.Done():
		return nil
	}
	select {
	case body := <-reply: // run answers whom it has heard
		return body
	case <-ctx.Done():
		return nil
	}
}

// keepUp pushes the rows that came. A new channel or another limit begins anew from
// the oldest row held, and the answer before stands no longer.
func (l *live) keepUp(ctx context.Context) {
	chs, version := l.config.Session.Channels()
	if limit := l.Server.limit(); l.online == nil || version != l.version || limit != l.limit {
		l.online = analysis.NewOnline(chs, analysis.Options{LimitC: limit, Earlier: l.config.Earlier, Coolant: l.coolant()})
		l.after, l.version, l.limit, l.body, l.line = 0, version, limit, nil, say.Line{}
	}
	for ctx.Err() == nil {
		n, _ := l.config.Session.Ring().Rows(l.after, 600, &l.block)
		if n == 0 || l.block.Channels > len(chs) { // a channel came meanwhile: next time
			return
		}
		for i := range n {
			r := l.pad.row(l.block.Row(i), len(chs))
			l.online.Push(r.At, r.Values, r.States)
			l.after = r.Seq
		}
	}
}

// coolant is what the setup says is in the loop.
func (l *live) coolant() string {
	for _, s := range l.config.Session.Setup() {
		if s.Key == "coolant" {
			return s.Value
		}
	}
	return ""
}

// answer asks the analysis and tells the viewers.
func (l *live) answer() {
	began := time.Now()
	result := l.online.Result()
	l.stands = pace(time.Since(began))
	self := l.config.Self()
	self.Viewers = l.hub.Viewers()
	l.line = say.Next(l.line, result)
	msg, err := wire.AppendEvent(nil, uint32(l.version), l.after,
		wire.Analysis{Kind: wire.EventAnalysis, Say: l.line, Result: result, Self: self})
	if err != nil {
		l.config.Log.Warn("analysis not sent", "err", err)
		return
	}
	l.body, l.bodyOf, l.bodyAt = msg[wire.HeaderSize:], l.after, time.Now()
	l.hub.State(msg)
}
