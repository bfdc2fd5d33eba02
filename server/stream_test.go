package server

import (
	"context"
	"encoding/json"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
	"soakline/server/wire"
)

func TestRowsArriveInOrderEncodedOnce(t *testing.T) {
	b := newBench(t, Config{})
	first, second := b.dial(""), b.dial("")
	b.feed(50)
	b.expectRows(first, 1, 50)
	b.expectRows(second, 1, 50)
	if n := b.encoded.Load(); n != 50 {
		t.Errorf("%d encodings of 50 rows for 2 viewers", n)
	}
}

// Rows from the requests and rows from the stream make one sequence without holes.
func TestResumeWithoutHoles(t *testing.T) {
	b := newBench(t, Config{})
	b.feed(1000)
	layout := decode[wire.Layout](b, b.do("GET", "/api/layout", ""))
	if layout.LastSeq != 1000 {
		t.Fatalf("last_seq %d", layout.LastSeq)
	}
	conn := b.dial("?after=700&session=" + layout.Session.ID)
	b.feed(5)
	b.expectRows(conn, 701, 1005)

	far := b.dial("?after=100")
	h, _ := b.frame(far, false)
	if h.Type != wire.TypeSkip || h.Seq != 1006 {
		t.Fatalf("got %+v, want a skip to 1006", h)
	}
	b.expectEvent(far, wire.EventLayout)
	rows := b.do("GET", "/api/rows?after=100&max=6000", "").Body.Bytes()
	var r telemetry.Row
	for seq := uint64(101); seq <= 1005; seq++ {
		msg, rest, err := wire.NextSized(rows)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := wire.DecodeRow(msg, &r); err != nil || r.Seq != seq {
			t.Fatalf("row %d, %v; want %d", r.Seq, err, seq)
		}
		rows = rest
	}
	if len(rows) != 0 {
		t.Errorf("%d bytes after the last row", len(rows))
	}

	other := b.dial("?after=1005&session=another")
	if h, _ := b.frame(other, false); h.Type != wire.TypeSkip {
		t.Errorf("got %+v for another session's number, want a skip", h)
	}
}

func TestEventsReachTheViewer(t *testing.T) {
	rig := &setups{selected: "fan"}
	b := newBench(t, Config{Rig: rig})
	conn := b.dial("")
	b.feed(1)
	b.expectRows(conn, 1, 1)

	mark := decode[wire.Mark](b, b.do("POST", "/api/marks", `{"at_s":null,"text":"panel <back> on"}`))
	if e := b.expectEvent(conn, wire.EventMark); *e.Mark != mark || mark.Text != "panel <back> on" || mark.Kind != "user" {
		t.Errorf("event %+v, answer %+v", e.Mark, mark)
	}
	edited := decode[wire.Mark](b, b.do("PUT", "/api/marks/1", `{"text":"panel off"}`))
	if e := b.expectEvent(conn, wire.EventMark); *e.Mark != edited || edited.Text != "panel off" || edited.ID != mark.ID {
		t.Errorf("event %+v, answer %+v", e.Mark, edited)
	}
	b.do("POST", "/api/setup", `{"key":"paste","value":"new"}`)
	if e := b.expectEvent(conn, wire.EventSetup); len(e.Setup) != 2 || e.Setup[1] != (wire.Setting{Key: "paste", Value: "new"}) {
		t.Errorf("setup %+v", e.Setup)
	}
	b.do("POST", "/api/setup", `{"key":"paste","value":""}`)
	b.expectEvent(conn, wire.EventSetup)
	b.do("POST", "/api/setup", `{"key":"cooler","value":""}`)
	if e := b.expectEvent(conn, wire.EventSetup); e.Setup == nil || len(e.Setup) != 0 {
		t.Errorf("an emptied setup arrives as %+v", e.Setup)
	}
	b.do("POST", "/api/limit", `{"limit_c":85}`)
	b.expectEvent(conn, wire.EventLayout)
	if l := decode[wire.Layout](b, b.do("GET", "/api/layout", "")); l.LimitC != 85 || *l.Lanes[1].Limits[0].Value != 85 {
		t.Errorf("limit %v, lanes %+v", l.LimitC, l.Lanes)
	}
	b.do("POST", "/api/rig", `{"setup":"plate"}`)
	b.expectEvent(conn, wire.EventLayout)
	if l := decode[wire.Layout](b, b.do("GET", "/api/layout", "")); l.Rig.Selected != "plate" || rig.selected != "plate" {
		t.Errorf("rig %+v", l.Rig)
	}
	b.session.SetMissing([]telemetry.Missing{{Name: "energy", Reason: "permission denied"}})
	b.expectEvent(conn, wire.EventLayout)
	b.session.End("the file is at its end")
	if e := b.expectEvent(conn, wire.EventEnd); e.Why != "the file is at its end" {
		t.Errorf("end %+v", e)
	}
}

// A channel that comes later: first the word, then rows of the new width.
func TestNewChannels(t *testing.T) {
	b := newBench(t, Config{})
	conn := b.dial("")
	b.feed(2)
	b.expectRows(conn, 1, 2)
	b.session.AddChannels([]telemetry.Channel{{Key: "b/fan", Name: "fan", Quantity: quantity.Rotation}})
	b.feed(1)
	b.expectEvent(conn, wire.EventLayout)
	h, _ := b.frame(conn, false)
	if h.Type != wire.TypeRow || h.Count != 6 || h.ChannelsVersion != 2 {
		t.Errorf("row after a new channel: %+v", h)
	}
	msg, _, err := wire.NextSized(b.do("GET", "/api/rows?after=0", "").Body.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	var r telemetry.Row
	if _, err := wire.DecodeRow(msg, &r); err != nil || len(r.States) != 6 || r.States[5] != telemetry.NoData {
		t.Errorf("a row from before: %+v, %v", r, err)
	}
}

// An answer that takes for ever delays no row.
func TestAnalysisDelaysNoRow(t *testing.T) {
	hang := make(chan struct{})
	asked := make(chan struct{}, 1)
	b := newBench(t, Config{Self: func() wire.Self {
		asked <- struct{}{}
		<-hang
		return wire.Self{}
	}})
	conn := b.dial("")
	go b.do("GET", "/api/analysis", "")
	<-asked
	b.feed(20)
	b.expectRows(conn, 1, 20)
	close(hang)
	b.expectEvent(conn, wire.EventAnalysis)
}

// An analysis that takes long is asked less often, but never left alone.
func TestPace(t *testing.T) {
	for took, want := range map[time.Duration]time.Duration{
		0: time.Second, 5 * time.Millisecond: time.Second, 20 * time.Millisecond: 2 * time.Second, time.Minute: 5 * time.Second,
	} {
		if got := pace(took); got != want {
			t.Errorf("an answer that took %v stands %v, want %v", took, got, want)
		}
	}
}

func TestAnotherLimitIsAnsweredAtOnce(t *testing.T) {
	b := newBench(t, Config{LimitC: 80})
	b.feed(10)
	answer := func() float64 {
		a := decode[struct {
			Result struct {
				Headroom struct {
					LimitC float64 `json:"limit_c"`
				}
			}
		}](b, b.do("GET", "/api/analysis", ""))
		return a.Result.Headroom.LimitC
	}
	if got := answer(); got != 80 {
		t.Errorf("answered for %v", got)
	}
	b.do("POST", "/api/limit", `{"limit_c":95}`)
	if got := answer(); got != 95 {
		t.Errorf("answered for %v", got)
	}
}

func TestAnalysisIsTheSameByRequestAndByStream(t *testing.T) {
	b := newBench(t, Config{})
	conn := b.dial("")
	b.feed(10)
	got := b.do("GET", "/api/analysis", "").Body.String()
	for {
		h, msg := b.frame(conn, true)
		if h.Type == wire.TypeEvent {
			if string(msg[wire.HeaderSize:]) != got {
				t.Errorf("stream: %s\nrequest: %s", msg[wire.HeaderSize:], got)
			}
			break
		}
	}
	var a struct {
		Result struct{ Schema string }
		Self   struct{ Viewers int }
	}
	if err := json.Unmarshal([]byte(got), &a); err != nil || a.Result.Schema != "soakline.analysis/1" || a.Self.Viewers != 1 {
		t.Errorf("%+v, %v", a, err)
	}
}

// deadlineRecorder notes whether deadlines were set, and cannot be hijacked.
type deadlineRecorder struct {
	*httptest.ResponseRecorder
	set int
}

func (d *deadlineRecorder) SetReadDeadline(time.Time) error  { d.set++; return nil }
func (d *deadlineRecorder) SetWriteDeadline(time.Time) error { d.set++; return nil }

func TestStreamStandsOutsideTheDeadlines(t *testing.T) {
	b := newBench(t, Config{})
	for path, want := range map[string]int{"/api/layout": 2, "/api/trace.csv": 2, "/api/stream": 0} {
		r := httptest.NewRequest("GET", path, nil)
		r.Host = "localhost"
		w := &deadlineRecorder{ResponseRecorder: httptest.NewRecorder()}
		b.Handler().ServeHTTP(w, r)
		if w.set != want {
			t.Errorf("%s: %d deadlines set, want %d", path, w.set, want)
		}
	}
}

func TestStreamRefusesOtherPages(t *testing.T) {
	b := newBench(t, Config{})
	for _, c := range []struct {
		name, origin, host string
		status             int
	}{
		{"none, as a program sends", "", "", 101},
		{"own", "http://" + b.host, "", 101},
		{"another host", "http://evil.test", "", 403},
		{"another port", "http://127.0.0.1:1", "", 403},
		{"a sandboxed frame", "null", "", 403},
		{"a file", "file://", "", 403},
		{"host in the user's place", "http://" + b.host + "@evil.test", "", 403},
		{"DNS rebinding", "http://evil.test", "evil.test", 421},
	} {
		h := http.Header{}
		if c.origin != "" {
			h.Set("Origin", c.origin)
		}
		if c.host != "" {
			h.Set("Host", c.host)
		}
		conn, answer, err := websocket.DefaultDialer.Dial("ws://"+b.host+"/api/stream", h)
		if answer == nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if answer.StatusCode != c.status {
			t.Errorf("%s: status %d, want %d", c.name, answer.StatusCode, c.status)
		}
		if conn != nil {
			conn.Close()
		}
	}
}

func TestStreamRefusesBadNumbers(t *testing.T) {
	b := newBench(t, Config{})
	for _, bad := range []string{"-1", "x", "", "1.5", "99999999999999999999"} {
		b.refused(b.do("GET", "/api/stream?after="+bad, ""), http.StatusBadRequest, "after")
	}
}

// The page may say where it is, and nothing else, in few and short words. (OWASP
// WebSocket Security Cheat Sheet: limit message size, validate every message.)
func TestStreamLimitsWhatThePageSays(t *testing.T) {
	b := newBench(t, Config{})
	for text, code := range map[string]int{
		`{"seq":1,"x":` + strings.Repeat("1", 600) + `}`: websocket.CloseMessageTooBig,
		`{"subscribe":"all"}`:                            websocket.ClosePolicyViolation,
	} {
		conn := b.dial("")
		if err := conn.WriteMessage(websocket.TextMessage, []byte(text)); err != nil {
			t.Fatal(err)
		}
		conn.SetReadDeadline(time.Now().Add(10 * time.Second))
		for {
			if _, _, err := conn.ReadMessage(); err != nil {
				if !websocket.IsCloseError(err, code) {
					t.Errorf("%.20s: %v, want code %d", text, err, code)
				}
				break
			}
		}
	}
}

// When the program stops, every viewer hears why, and nothing is left running.
func TestShutdownLeavesNothing(t *testing.T) {
	before := runtime.NumGoroutine()
	s := New(Config{Session: newSession(channels())})
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx, ln) }()
	var conns []*websocket.Conn
	for range 20 {
		conn, _, err := websocket.DefaultDialer.Dial("ws://"+ln.Addr().String()+"/api/stream", nil)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		conns = append(conns, conn)
	}
	b := &bench{TB: t, Server: s}
	b.until("all have joined", func() bool { return s.Viewers() == len(conns) })
	cancel()
	if err := <-done; err != nil {
		t.Errorf("Serve gave %v", err)
	}
	for _, conn := range conns {
		if e := b.expectEvent(conn, wire.EventEnd); e.Why == "" {
			t.Error("the end has no reason")
		}
		if _, _, err := conn.ReadMessage(); !websocket.IsCloseError(err, websocket.CloseGoingAway) {
			t.Errorf("after the end: %v", err)
		}
		conn.Close()
	}
	b.until("all goroutines have ended", func() bool { return runtime.NumGoroutine() <= before })
}

// One address, one session after the other: the first page is told of the end and finds
// the next session where the first was.
func TestFrontShowsOneSessionAfterTheOther(t *testing.T) {
	front := &Front{}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- ServeFront(ctx, ln, front, slog.New(slog.DiscardHandler)) }()
	show := func(c Config) (b *bench, end func()) {
		b = &bench{TB: t, Server: New(c), session: c.Session, host: ln.Addr().String()}
		mine, stop := context.WithCancel(ctx)
		shown := make(chan struct{})
		go func() { front.Show(mine, b.Server); close(shown) }()
		b.until("it is in front", func() bool { return front.now.Load() == b.Server })
		return b, func() { stop(); <-shown }
	}
	first, end := show(Config{Session: newSession(channels())})
	conn := first.dial("")
	first.feed(3)
	first.expectRows(conn, 1, 3)
	end()
	first.expectEvent(conn, wire.EventEnd)
	// What the first had is still there, and no request waits for what has ended.
	if body := first.do("GET", "/api/trace.csv", "").Body.String(); strings.Count(body, "\n") < 4 {
		t.Errorf("trace %q", body)
	}
	first.do("GET", "/api/analysis", "")

	second, end := show(Config{Session: newSession(channels()[:1])})
	conn = second.dial("?after=3&session=the-first")
	if h, _ := second.frame(conn, false); h.Type != wire.TypeSkip || h.Seq != 1 {
		t.Errorf("got %+v, want a skip to the second session's first row", h)
	}
	second.expectEvent(conn, wire.EventLayout)
	second.feed(1)
	second.expectRows(conn, 1, 1)
	end()
	cancel()
	if err := <-served; err != nil {
		t.Error(err)
	}
}
