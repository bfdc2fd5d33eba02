package relay

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"sync/atomic"
	"time"

	"github.com/gorilla/websocket"
)

// link is the state of the connection; it belongs to the goroutine of run.
type link struct {
	layout *layout
	seq    atomic.Uint64    // the last row handed on
	marks  map[int64]string // known by number
	ended  bool             // told that the other session is over
}

// Pauses between two attempts at contact, and how long one answer may take. A link on
// which nothing comes for silence, pings of the other side included, is dead.
const (
	firstPause = 500 * time.Millisecond
	longPause  = 10 * time.Second
	answerTime = 10 * time.Second
	silence    = 20 * time.Second
	maxAnswer  = 16 << 20 // bytes
	mostRows   = 6000     // of one answer
)

// run keeps the link until ctx ends; first is the layout that there was at the start.
func (s *Source) run(ctx context.Context, first *layout) {
	defer close(s.done)
	pause := firstPause
	for l := first; ctx.Err() == nil; l = nil {
		came, err := s.follow(ctx, l)
		if ctx.Err() != nil {
			return
		}
		if came {
			pause = firstPause
		}
		s.cfg.Log.Info("no contact with the other computer", "at", s.address.shown, "err", err, "again in", pause)
		select {
		case <-ctx.Done():
			return
		case <-time.After(pause):
		}
		pause = min(2*pause, longPause)
	}
}

// follow makes contact and hands on what comes until it ends; came says that there was
// contact.
func (s *Source) follow(ctx context.Context, l *layout) (came bool, err error) {
	if l == nil {
		if l, err = s.fetchLayout(ctx); err != nil {
			return false, err
		}
	}
	at, err := s.address.resolve(ctx)
	if err != nil {
		return false, err
	}
	s.adopt(ctx, l)
	dialer := websocket.Dialer{HandshakeTimeout: answerTime}
	conn, answer, err := dialer.DialContext(ctx, fmt.Sprintf("ws://%s/api/stream?after=%d&session=%s", at, s.link.seq.Load(), l.Session.ID), nil)
	if err != nil {
		if answer != nil {
			err = refusedBy(answer)
		}
		return false, err
	}
	defer conn.Close()
	stop := context.AfterFunc(ctx, func() { conn.Close() })
	defer stop()
	ended := make(chan struct{})
	defer close(ended)
	go s.acknowledge(conn, ended)
	return true, s.receive(ctx, conn)
}

// receive hands on messages until the connection ends.
func (s *Source) receive(ctx context.Context, conn *websocket.Conn) error {
	conn.SetReadLimit(maxAnswer)
	alive := func() { conn.SetReadDeadline(time.Now().Add(silence)) }
	ping := conn.PingHandler()
	conn.SetPingHandler(func(data string) error { alive(); return ping(data) })
	for {
		alive()
		kind, msg, err := conn.ReadMessage()
		if err != nil {
			return err
		}
		if kind != websocket.BinaryMessage {
			continue
		}
		f, err := decode(msg)
		if err == nil {
			err = s.handle(ctx, f)
		}
		if err != nil {
			return err
		}
	}
}

// acknowledge tells once a second which row was handed on, as a viewer must.
func (s *Source) acknowledge(conn *websocket.Conn, ended <-chan struct{}) {
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	for {
		select {
		case <-ended:
			return
		case <-tick.C:
			conn.SetWriteDeadline(time.Now().Add(answerTime))
			if conn.WriteJSON(map[string]uint64{"seq": s.link.seq.Load()}) != nil {
				conn.Close()
				return
			}
		}
	}
}

// handle hands on one message, after the rows that are missing before it.
func (s *Source) handle(ctx context.Context, f frame) error {
	switch f.kind {
	case typeRow:
		if f.channels > s.link.layout.ChannelsVersion {
			if err := s.refresh(ctx); err != nil {
				return err
			}
		}
		if f.row.Seq > s.link.seq.Load()+1 {
			if err := s.fill(ctx, f.row.Seq); err != nil {
				return err
			}
		}
		s.put(ctx, f)
	case typeEvent:
		return s.handleEvent(ctx, f.event)
	}
	return nil
}

func (s *Source) handleEvent(ctx context.Context, e event) error {
	switch {
	case e.Kind == "layout":
		return s.refresh(ctx)
	case e.Kind == "mark" && e.Mark != nil:
		s.putMark(ctx, *e.Mark)
	case e.Kind == "setup":
		l := *s.link.layout
		l.Setup = e.Setup
		s.adopt(ctx, &l)
	case e.Kind == "end":
		s.tellEnd(ctx, e.Why)
	}
	return nil
}

// put hands on a row that is newer than those before.
func (s *Source) put(ctx context.Context, f frame) {
	if f.row.Seq <= s.link.seq.Load() {
		return
	}
	s.hand(ctx, item{row: f.row, isRow: true})
	s.link.seq.Store(f.row.Seq)
}

func (s *Source) hand(ctx context.Context, it item) {
	it.layout = s.link.layout
	select {
	case s.items <- it:
	case <-ctx.Done():
	}
}

// putMark hands on a mark that is new or has another text.
func (s *Source) putMark(ctx context.Context, m mark) {
	before, known := s.link.marks[m.ID]
	if known && before == m.Text {
		return
	}
	s.link.marks[m.ID] = m.Text
	if known {
		m.Text += " (corrected)"
	}
	s.hand(ctx, item{mark: &m})
}

func (s *Source) tellEnd(ctx context.Context, why string) {
	if !s.link.ended && why != "" {
		s.link.ended = true
		s.hand(ctx, item{text: "the session on " + s.link.layout.Session.Host + " ended: " + why})
	}
}

// refresh asks for the layout again.
func (s *Source) refresh(ctx context.Context) error {
	l, err := s.fetchLayout(ctx)
	if err == nil {
		s.adopt(ctx, l)
	}
	return err
}

// adopt takes a layout. Rows of another session are counted anew, from the newest.
func (s *Source) adopt(ctx context.Context, l *layout) {
	before := s.link.layout
	s.link.layout = l
	if before == nil || before.Session.ID != l.Session.ID {
		s.link.seq.Store(l.LastSeq)
		s.link.marks, s.link.ended = map[int64]string{}, false
		for _, m := range l.Marks { // from before we came
			s.link.marks[m.ID] = m.Text
		}
	}
	s.mu.Lock()
	if !sameOffer(s.layout, l) {
		select {
		case s.changed <- struct{}{}:
		default:
		}
	}
	s.layout = l
	s.mu.Unlock()
	for _, m := range l.Marks {
		s.putMark(ctx, m)
	}
	s.tellEnd(ctx, l.Ended)
}

// fill fetches the rows between the last one handed on and row next, as far as the
// other computer still holds them.
func (s *Source) fill(ctx context.Context, next uint64) error {
	for after := s.link.seq.Load(); after+1 < next; {
		body, err := s.get(ctx, fmt.Sprintf("/api/rows?after=%d&max=%d", after, mostRows))
		if err != nil {
			return err
		}
		before := after
		for len(body) > 0 {
			var msg []byte
			if msg, body, err = nextSized(body); err != nil {
				return err
			}
			f, err := decode(msg)
			if err != nil {
				return err
			}
			if f.kind == typeRow && f.row.Seq < next {
				s.put(ctx, f)
				after = f.row.Seq
			}
		}
		if after == before {
			return nil
		}
	}
	return nil
}

func (s *Source) fetchLayout(ctx context.Context) (*layout, error) {
	body, err := s.get(ctx, "/api/layout")
	if err != nil {
		return nil, fmt.Errorf("no soakline answers at http://%s: %w", s.address.shown, err)
	}
	l := &layout{}
	if err := json.Unmarshal(body, l); err != nil || l.Session.ID == "" {
		return nil, fmt.Errorf("what answers at http://%s is no soakline", s.address.shown)
	}
	if l.Version != version {
		return nil, fmt.Errorf("the soakline at http://%s speaks version %d of the stream, this one version %d: use the same release on both computers",
			s.address.shown, l.Version, version)
	}
	return l, nil
}

// client asks the other computer itself: no proxy, and nobody to whom it may send us on.
var client = &http.Client{Timeout: answerTime, Transport: &http.Transport{IdleConnTimeout: time.Minute},
	CheckRedirect: func(*http.Request, []*http.Request) error { return errors.New("it sends us elsewhere") }}

// get asks for a path and gives the body of a success.
func (s *Source) get(ctx context.Context, path string) ([]byte, error) {
	at, err := s.address.resolve(ctx)
	if err != nil {
		return nil, err
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+at+path, nil)
	if err != nil {
		return nil, err
	}
	answer, err := client.Do(request)
	if err != nil {
		return nil, err
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		return nil, refusedBy(answer)
	}
	body, err := io.ReadAll(io.LimitReader(answer.Body, maxAnswer+1))
	if err == nil && len(body) > maxAnswer {
		err = errors.New("the answer is longer than 16 MiB")
	}
	return body, err
}

// refusedBy is the other's own sentence, where it gave one.
func refusedBy(answer *http.Response) error {
	var told struct {
		Error string `json:"error"`
	}
	body, _ := io.ReadAll(io.LimitReader(answer.Body, 4096))
	if json.Unmarshal(body, &told) == nil && told.Error != "" {
		return errors.New(told.Error)
	}
	return errors.New(answer.Status)
}
