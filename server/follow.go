package server

import (
	"context"
	"math"
	"slices"

	"soakline/collector/ring"
	"soakline/collector/telemetry"
	"soakline/server/wire"
)

// follower holds what the viewers have been told of the session.
type follower struct {
	*Server
	block    ring.Block
	pad      padding
	channels int
	version  int
	listOf   uint64 // the session's count of changes when the list of channels was looked at
	changes  uint64 // and when the notes were told
	marks    []telemetry.Mark
	setup    []telemetry.Setting
	missing  []telemetry.Missing
	ended    bool
}

// follow passes what comes to the session on to the viewers until ctx ends.
func (s *Server) follow(ctx context.Context) {
	wake, stop := s.config.Session.Follow()
	defer stop()
	f := newFollower(s)
	for {
		select {
		case <-ctx.Done():
			return
		case <-wake:
			f.look(ctx)
		}
	}
}

// newFollower takes what is there now as told: the layout says it.
func newFollower(s *Server) *follower {
	session := s.config.Session
	now := session.Changes()
	f := &follower{Server: s, changes: now, listOf: now}
	chs, version := session.Channels()
	f.channels, f.version = len(chs), version
	f.marks, f.setup, f.missing = session.Marks(), session.Setup(), session.Missing()
	return f
}

// look tells new channels before their rows, and the end after the last row.
func (f *follower) look(ctx context.Context) {
	_, over := f.config.Session.Ended() // before the rows: none comes after it
	changes := f.config.Session.Changes()
	f.rows(ctx)
	if changes != f.changes {
		f.changes = changes
		f.notes()
	}
	if over && !f.ended {
		f.ended = true
		why, _ := f.config.Session.Ended()
		f.event(wire.Event{Kind: wire.EventEnd, Why: why})
	}
}

func (f *follower) rows(ctx context.Context) {
	for ctx.Err() == nil {
		n, _ := f.config.Session.Ring().Rows(f.published.Load(), 600, &f.block)
		f.newChannels() // after Rows: the list is never shorter than a row
		if n == 0 {
			return
		}
		for i := range n {
			f.row(f.pad.row(f.block.Row(i), f.channels))
		}
	}
}

func (f *follower) newChannels() {
	changes := f.config.Session.Changes()
	if changes == f.listOf {
		return
	}
	f.listOf = changes
	if chs, version := f.config.Session.Channels(); version != f.version {
		f.channels, f.version = len(chs), version
		f.event(wire.Event{Kind: wire.EventLayout})
	}
}

// row encodes a row once for all viewers. The hub keeps the message, hence a new one.
func (f *follower) row(r telemetry.Row) {
	msg, err := wire.AppendRow(make([]byte, 0, wire.RowSize(len(r.Values))), uint32(f.version), r)
	if err != nil {
		f.config.Log.Warn("row not sent", "err", err)
		f.published.Store(r.Seq)
		return
	}
	f.encoded.Add(1)
	f.hub.Row(r.Seq, msg)
	f.published.Store(r.Seq)
}

// notes tells what changed among marks, setup and missing channels.
func (f *follower) notes() {
	session := f.config.Session
	marks := session.Marks()
	for _, m := range marks {
		if !slices.Contains(f.marks, m) {
			f.event(wire.Event{Kind: wire.EventMark, Mark: new(wireMark(m))})
		}
	}
	f.marks = marks
	if setup := session.Setup(); !slices.Equal(setup, f.setup) {
		f.setup = setup
		f.event(wire.Event{Kind: wire.EventSetup, Setup: wireSetup(setup)})
	}
	if missing := session.Missing(); !slices.Equal(missing, f.missing) {
		f.missing = missing
		f.event(wire.Event{Kind: wire.EventLayout})
	}
}

// padding widens rows from before a channel was added.
type padding struct {
	values []float64
	states []telemetry.State
}

func (p *padding) row(r telemetry.Row, channels int) telemetry.Row {
	if len(r.Values) >= channels {
		return r
	}
	p.values = append(p.values[:0], r.Values...)
	p.states = append(p.states[:0], r.States...)
	for len(p.values) < channels {
		p.values = append(p.values, math.NaN())
		p.states = append(p.states, telemetry.NoData)
	}
	r.Values, r.States = p.values, p.states
	return r
}
