package server

import (
	"math"
	"net/http"
	"strconv"
	"time"

	"github.com/gorilla/websocket"

	"soakline/server/wire"
)

// upgrader leaves compression off: it costs twice the CPU for 2 kB/s, and the read
// limit would count compressed bytes. Host and Origin were checked before; the second
// look at Origin costs nothing and stands if routes are rearranged.
var upgrader = websocket.Upgrader{
	HandshakeTimeout: 5 * time.Second,
	ReadBufferSize:   1 << 10,
	WriteBufferSize:  4 << 10,
	CheckOrigin:      sameOrigin,
	Error: func(w http.ResponseWriter, _ *http.Request, status int, reason error) {
		refuse(w, status, reason.Error())
	},
}

// stream joins a viewer: GET /api/stream?after=SEQ&session=ID. With after it is sent
// the rows that it missed; where session is not the one that runs, those are others.
func (s *Server) stream(w http.ResponseWriter, r *http.Request) error {
	after, err := resumePoint(r, s.config.Session.Info().ID)
	if err != nil {
		return err
	}
	if s.hub.Full() {
		return &refusal{http.StatusServiceUnavailable, "as many viewers as can be served are connected: close one"}
	}
	conn, err := upgrader.Upgrade(w, r, nil)
	if err != nil {
		return nil // the upgrader has answered
	}
	s.hub.Serve(conn, after)
	return nil
}

func resumePoint(r *http.Request, session string) (*uint64, error) {
	q := r.URL.Query()
	if !q.Has("after") {
		return nil, nil
	}
	after, err := strconv.ParseUint(q.Get("after"), 10, 64)
	if err != nil {
		return nil, badRequest("after=%q: expected the number of a row", q.Get("after"))
	}
	if q.Has("session") && q.Get("session") != session {
		after = math.MaxUint64 // no row of this session: the hub answers with a skip
	}
	return &after, nil
}

// skipMessages tell a viewer to go on at row next, and to ask for the layout (which
// holds marks and setup) where events were left out.
func (s *Server) skipMessages(next uint64, lost bool) [][]byte {
	version := s.channelsVersion()
	msgs := [][]byte{wire.AppendSkip(nil, version, next)}
	if lost {
		if event, err := wire.AppendEvent(nil, version, next-1, wire.Event{Kind: wire.EventLayout}); err == nil {
			msgs = append(msgs, event)
		}
	}
	return msgs
}

func (s *Server) channelsVersion() uint32 {
	_, version := s.config.Session.Channels()
	return uint32(version)
}

// event tells all viewers of something.
func (s *Server) event(e wire.Event) {
	msg, err := wire.AppendEvent(nil, s.channelsVersion(), s.published.Load(), e)
	if err != nil {
		s.config.Log.Warn("event not sent", "kind", e.Kind, "err", err)
		return
	}
	s.hub.Event(msg)
}
