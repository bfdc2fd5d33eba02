package server

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
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
	if _, told := s.config.Session.Ended(); !told {
		s.event(wire.Event{Kind: wire.EventEnd, Why: "this session has ended"})
	}
	s.hub.Close()
}

// ServeHTTP passes the request on.
func (f *Front) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if s := f.now.Load(); s != nil {
		s.handler.ServeHTTP(w, r)
		return
	}
	starting.ServeHTTP(w, r)
}

// starting answers whoever comes before the first server: a browser asks again by itself.
var starting = secured(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Refresh", "1")
	w.Header().Set("Retry-After", "1")
	refuse(w, http.StatusServiceUnavailable, "soakline is starting: ask again in a moment")
}))

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
