package main

import (
	"context"
	"crypto/rand"
	"errors"
	"os"
	"runtime"
	"time"

	"soakline/collector/archive"
	"soakline/collector/conditions"
	"soakline/collector/sampler"
	"soakline/collector/session"
	lines "soakline/collector/source/feed"
	"soakline/collector/telemetry"
)

// bench is one recording in progress: a sampler that fills a session, and the recorder
// that keeps it.
type bench struct {
	env      *env
	sampler  *sampler.Sampler
	session  *session.Session
	recorder *archive.Recorder // nil where nothing is kept
	found    sampler.Found
	feeds    []*lines.Source
}

// feed is what a bench reads.
type feed struct {
	origin  session.Origin
	sources []telemetry.Source
	clock   sampler.Clock
	period  time.Duration
	roles   map[telemetry.Role]string
	feeds   []*lines.Source // instruments among the sources
	host    string          // whose they are; "": this computer's
}

// open opens the feed's sources and begins a session of what they give.
func (f feed) open(ctx context.Context, e *env) (*bench, error) {
	smp := sampler.New(sampler.Config{Period: f.period, Clock: f.clock, Log: e.log, Roles: f.roles}, f.sources)
	found, err := smp.Open(ctx)
	if err != nil {
		smp.Close()
		return nil, usage(err)
	}
	for _, s := range found.Sources {
		e.log.Debug("source", "name", s.Name, "status", s.Status, "channels", s.Channels, "reason", s.Reason)
	}
	host := f.host
	if host == "" {
		host, _ = os.Hostname()
	}
	now := time.Now()
	info := session.Info{
		ID: session.NewID(now, rand.Reader), Start: now, Host: host,
		System: runtime.GOOS + " " + runtime.GOARCH, Origin: f.origin, Period: f.period,
	}
	for _, c := range found.Channels {
		info.Simulated = info.Simulated || c.Simulated
	}
	s := session.New(info, found.Channels, found.Conditions)
	s.SetMissing(found.Missing)
	return &bench{env: e, sampler: smp, session: s, found: found, feeds: f.feeds}, nil
}

// keep records the session in store from now on.
func (b *bench) keep(store *archive.Store) {
	// It ends with the session, not with the interrupt that ends the sampling: what
	// was sampled is written.
	b.recorder = store.Record(context.Background(), b.session)
}

// run samples until ctx ends or the source is at its end, then closes the session and
// waits until the last of it is on the disk.
func (b *bench) run(ctx context.Context) error { return b.runInto(ctx, b.session) }

// runInto is run with the rows going to sink, which passes them on to the session.
func (b *bench) runInto(ctx context.Context, sink sampler.Sink) error {
	watched := make(chan struct{})
	go func() { conditions.Follow(ctx, b.session); close(watched) }()
	err := b.sampler.Run(ctx, sink)
	switch {
	case err == nil:
		b.session.End("the recording was played to its end")
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		err = nil
		b.session.End("stopped")
	default:
		b.session.End(err.Error())
	}
	<-watched
	if b.recorder != nil {
		<-b.recorder.Done()
		if st := b.recorder.Status(); st.Err != nil && err == nil {
			err = st.Err
		}
	}
	return err
}

// shows is true where the sources give what the main job needs: a temperature of the
// die or a power.
func (b *bench) shows() bool {
	return telemetry.IndexOf(b.found.Channels, telemetry.RoleDie) >= 0 ||
		telemetry.IndexOf(b.found.Channels, telemetry.RolePower) >= 0
}
