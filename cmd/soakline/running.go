package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"time"

	"soakline/collector/session"
	lines "soakline/collector/source/feed"
	"soakline/server"
	"soakline/server/runfile"
)

// leaveNote lets 'mark', 'setup' and 'score' of the same user find this program; they are
// a convenience, so that a folder that cannot be written stops nothing.
func leaveNote(e *env, at net.Addr, srv *server.Server, session string) (withdraw func()) {
	_, port, err := net.SplitHostPort(at.String())
	if err == nil {
		var folder string
		if folder, err = runfile.Folder(); err == nil {
			withdraw, err = runfile.Leave(folder, runfile.Note{Address: net.JoinHostPort("127.0.0.1", port), Token: srv.Token(), Session: session})
		}
	}
	if err != nil {
		e.log.Warn("'soakline mark' will not find this recording", "err", err)
		return func() {}
	}
	return withdraw
}

// reachable answers 'mark', 'setup' and 'score' while a session is recorded without the
// page, on a free port of this computer alone; the token keeps others out.
func reachable(e *env, s *session.Session, feeds []*lines.Source) (end func()) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		e.log.Warn("'soakline mark' will not reach this recording", "err", err)
		return func() {}
	}
	srv := server.New(server.Config{Session: s, Feed: pushTo(feeds), Log: e.log})
	web := &http.Server{Handler: srv.Handler(), ReadHeaderTimeout: 5 * time.Second}
	go web.Serve(ln)
	sayPush(e.errOut, feeds, ln.Addr(), srv.Token())
	withdraw := leaveNote(e, ln.Addr(), srv, s.Info().ID)
	return func() {
		withdraw()
		web.Close()
	}
}

// running finds the recording in progress that session names by its id or the beginning
// of it; "" or "running" is the only one there is.
func running(ctx context.Context, session string) (runfile.Note, error) {
	folder, err := runfile.Folder()
	if err != nil {
		return runfile.Note{}, err
	}
	list, err := runfile.List(ctx, folder)
	if err != nil {
		return runfile.Note{}, err
	}
	if session == "running" {
		session = ""
	}
	var fits []runfile.Note
	var ids []string
	for _, n := range list {
		if strings.HasPrefix(n.Session, session) {
			fits, ids = append(fits, n), append(ids, n.Session)
		}
	}
	switch len(fits) {
	case 0:
		return runfile.Note{}, errNoneRuns
	case 1:
		return fits[0], nil
	}
	return runfile.Note{}, usage(fmt.Errorf("%d recordings are in progress: choose one with --session %s", len(fits), strings.Join(ids, " or ")))
}

var errNoneRuns = usage(errors.New("no recording is in progress; name a session of the archive with --session ('soakline sessions')"))

// runs is true where the session named is, or may be, a recording in progress.
func runs(ctx context.Context, session string) (runfile.Note, bool, error) {
	n, err := running(ctx, session)
	if errors.Is(err, errNoneRuns) && session != "" && session != "running" {
		return n, false, nil // of the archive, then
	}
	return n, err == nil, err
}
