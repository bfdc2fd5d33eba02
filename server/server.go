// Package server shows a running session to the page: chi routes, access control, the
// stream of rows, and the live analysis, which runs here once a second.
//
// It follows the session; the session does not know it. Rows are encoded once for all
// viewers, on one goroutine; the analysis has another, so that an answer that takes
// long delays no row. Reading is open to whoever may reach it; every change of state
// needs the token of the layout, the page's own origin, and a JSON body.
//
// It must not know sensors, how rows are sampled, or where they are kept.
package server

import (
	"context"
	"crypto/rand"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"soakline/analysis"
	"soakline/collector/session"
	"soakline/collector/telemetry"
	"soakline/server/hub"
	"soakline/server/wire"
)

// RigControl selects a setup of the simulated machine.
type RigControl interface {
	Setups() []wire.RigSetup
	Selected() string
	// Select refuses a name that is not one of Setups.
	Select(name string) error
}

// LastSession is the machine's last session before this one; its zero value is none.
type LastSession struct {
	ID    string
	Setup []telemetry.Setting
}

// Config is what a server shows and to whom. Only Session is needed.
type Config struct {
	Session *session.Session
	Page    fs.FS       // index.html and what it loads, at the top level
	Rig     RigControl  // nil where a real machine or a file is shown
	Plan    PlanControl // nil where no plan is being run
	// StartPlan begins a plan; nil where none can be begun.
	StartPlan PlanStart
	LimitC    float64 // the temperature that the user will not exceed, degC; 0: not set
	Earlier   []analysis.Result
	Last      LastSession
	Archive   Archive          // the sessions that are kept; nil where none are
	Feed      FeedPush         // takes pushed lines of instruments; nil where none were asked for
	Self      func() wire.Self // the program's own cost; Viewers is filled in here

	// Wide says that the server was asked to listen beyond this computer: then any IP
	// address is a valid Host, and Hosts lists the names that are. Without it only the
	// loopback addresses, localhost and Hosts are. Only viewers on this computer are
	// given the token.
	Wide  bool
	Hosts []string

	Log *slog.Logger
}

// Server serves one session.
type Server struct {
	config  Config
	access  access
	hub     *hub.Hub
	live    *live
	shelf   *shelf
	handler http.Handler

	published atomic.Uint64 // the newest row that the hub has
	encoded   atomic.Uint64 // rows encoded for the stream

	mu     sync.Mutex
	limitC float64

	marking sync.Mutex // one mark of a page at a time
}

// How long one request may take, and how much it may send.
const (
	headerTimeout = 5 * time.Second
	bodyTimeout   = 10 * time.Second
	writeTimeout  = 30 * time.Second
	traceTimeout  = 10 * time.Minute
	idleTimeout   = 2 * time.Minute
	stopTimeout   = 5 * time.Second
	maxHeader     = 16 << 10
	maxBody       = 8 << 10

	analysisTimeout = 10 * time.Second
)

// New makes a server; it listens when Serve is called.
func New(c Config) *Server {
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.Self == nil {
		c.Self = func() wire.Self {
			return wire.Self{CPUPct: analysis.Unknown(), RSSMiB: analysis.Unknown(), LateMsP99: analysis.Unknown()}
		}
	}
	s := &Server{config: c, access: newAccess(c, rand.Text()), limitC: c.LimitC}
	s.hub = hub.New(hub.Config{Ack: wire.ParseAck, Skip: s.skipMessages, MaxMessage: wire.MaxAck, Log: c.Log})
	s.live = newLive(s)
	s.shelf = newShelf(c.Archive)
	s.handler = s.routes(newAssets(c.Page))
	return s
}

// Handler answers one request; it is for tests and for serving beside other things.
func (s *Server) Handler() http.Handler { return s.handler }

// Token is what a change of state must carry.
func (s *Server) Token() string { return s.access.token }

// Viewers is how many pages are connected.
func (s *Server) Viewers() int { return s.hub.Viewers() }

// Serve answers on ln until ctx ends, then tells the viewers, finishes what is under
// way, and returns nil. It closes ln and leaves no goroutine behind.
func (s *Server) Serve(ctx context.Context, ln net.Listener) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	front := &Front{}
	front.now.Store(s)
	shown := make(chan struct{})
	go func() {
		defer close(shown)
		front.Show(ctx, s)
	}()
	err := ServeFront(ctx, ln, front, s.config.Log)
	stop()
	<-shown
	return err
}

// run follows the session and answers for it until ctx ends.
func (s *Server) run(ctx context.Context) {
	var work sync.WaitGroup
	work.Go(func() { s.follow(ctx) })
	work.Go(func() { s.live.run(ctx) })
	work.Wait()
}

// LimitC is the temperature that the user will not exceed, degC; 0 where it is not set.
func (s *Server) LimitC() float64 { return s.limit() }

// limit is the temperature that the user will not exceed, 0 where it is not set.
func (s *Server) limit() float64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.limitC
}

func (s *Server) setLimit(c float64) {
	s.mu.Lock()
	s.limitC = c
	s.mu.Unlock()
	s.event(wire.Event{Kind: wire.EventLayout})
}
