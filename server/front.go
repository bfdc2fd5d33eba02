package server

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"sync/atomic"

	"soakline/server/wire"
)

// Front answers with the server that is shown now, so that one address stays while one
// session ends and the next begins. A page that was shown the earlier session is told
// of its end, connects again and finds the new one.
type Front struct{ now atomic.Pointer[Server] }

// Show puts s in front and runs it until ctx ends: it follows the session and tells the
// viewers. Afterwards s stays in front, with what it had, until another is shown.
func (f *Front) Show(ctx context.Context, s *Server) {
	f.now.Store(s)
	s.run(ctx)
	s.event(wire.Event{Kind: wire.EventEnd, Why: "this session has ended"})
	s.hub.Close()
}

// ServeHTTP passes the request on.
func (f *Front) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if s := f.now.Load(); s != nil {
		s.handler.ServeHTTP(w, r)
		return
	}
	http.Error(w, "soakline is starting", http.StatusServiceUnavailable)
}

// ServeFront answers on ln until ctx ends, finishes what is under way, and returns nil.
// Whoever shows the servers ends their streams; it closes ln.
func ServeFront(ctx context.Context, ln net.Listener, f *Front, log *slog.Logger) error {
	web := &http.Server{
		Handler:           f,
		ReadHeaderTimeout: headerTimeout,
		IdleTimeout:       idleTimeout,
		MaxHeaderBytes:    maxHeader,
		ErrorLog:          slog.NewLogLogger(log.Handler(), slog.LevelDebug),
	}
	failed := make(chan error, 1)
	go func() { failed <- web.Serve(ln) }()
	var err error
	select {
	case err = <-failed:
	case <-ctx.Done():
		bounded, cancel := context.WithTimeout(context.Background(), stopTimeout)
		defer cancel()
		if web.Shutdown(bounded) != nil {
			web.Close()
		}
		err = <-failed
	}
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// LimitC is the temperature that the user will not exceed, degC; 0 where it is not set.
func (s *Server) LimitC() float64 { return s.limit() }

// run follows the session and answers for it until ctx ends.
func (s *Server) run(ctx context.Context) {
	var work sync.WaitGroup
	work.Go(func() { s.follow(ctx) })
	work.Go(func() { s.live.run(ctx) })
	work.Wait()
}
