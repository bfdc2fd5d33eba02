package server

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"soakline/collector/quantity"
	"soakline/collector/session"
	"soakline/collector/telemetry"
	"soakline/server/wire"
)

// channels of a small invented machine.
func channels() []telemetry.Channel {
	return []telemetry.Channel{
		{Key: "a/power", Name: "package power", Quantity: quantity.Power, Role: telemetry.RolePower, Source: "rig", Simulated: true},
		{Key: "a/die", Name: "die <b>temperature</b>", Quantity: quantity.Temperature, Role: telemetry.RoleDie, Source: "rig"},
		{Key: "a/room", Name: "room air", Quantity: quantity.Temperature, Role: telemetry.RoleAmbient, Source: "rig"},
		{Key: "a/clock", Name: "core clock", Quantity: quantity.Frequency, Role: telemetry.RoleClock, Source: "rig"},
		{Key: "a/long", Name: "limit 1", Quantity: quantity.Power, Role: telemetry.RoleLongLimit, Source: "rig"},
	}
}

// bench is a running server with a session that the test feeds.
type bench struct {
	testing.TB
	*Server
	session *session.Session
	host    string
	end     func()
	seq     uint64
}

func newSession(chs []telemetry.Channel) *session.Session {
	return session.New(session.Info{ID: "20260102-030405-aaa", Start: time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC),
		Host: "bench", Origin: session.Rig, Period: 100 * time.Millisecond}, chs, []telemetry.Setting{{Key: "cooler", Value: "fan"}})
}

func newBench(t testing.TB, c Config) *bench {
	if c.Session == nil {
		c.Session = newSession(channels())
	}
	b := &bench{TB: t, Server: New(c), session: c.Session}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b.host = ln.Addr().String()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- b.Serve(ctx, ln) }()
	ended := false
	b.end = func() {
		if cancel(); !ended {
			ended = true
			if err := <-done; err != nil {
				t.Errorf("Serve gave %v", err)
			}
		}
	}
	t.Cleanup(b.end)
	return b
}

// feed publishes n rows and waits until the hub has them.
func (b *bench) feed(n int) {
	b.Helper()
	chs, _ := b.session.Channels()
	for range n {
		b.seq++
		r := telemetry.Row{Seq: b.seq, At: float64(b.seq-1) / 10, Values: make([]float64, len(chs)), States: make([]telemetry.State, len(chs))}
		for i := range chs {
			r.Values[i], r.States[i] = float64(b.seq)+float64(i)/8, telemetry.Fresh
		}
		b.session.Publish(r)
	}
	b.until("the rows are published", func() bool { return b.published.Load() == b.seq })
}

func (b *bench) until(what string, done func() bool) {
	b.Helper()
	for end := time.Now().Add(10 * time.Second); !done(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			b.Fatalf("waited in vain until %s\n%s", what, stacks())
		}
	}
}

func stacks() string {
	buf := make([]byte, 1<<16)
	return string(buf[:runtime.Stack(buf, true)])
}

func (b *bench) dial(query string) *websocket.Conn {
	b.Helper()
	before := b.hub.Viewers()
	conn, _, err := websocket.DefaultDialer.Dial("ws://"+b.host+"/api/stream"+query, nil)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { conn.Close() })
	b.until("the viewer has joined", func() bool { return b.hub.Viewers() > before })
	return conn
}

// frame reads the next frame; analysis events are left out unless asked for.
func (b *bench) frame(conn *websocket.Conn, withAnalysis bool) (wire.Header, []byte) {
	b.Helper()
	conn.SetReadDeadline(time.Now().Add(10 * time.Second))
	for {
		_, msg, err := conn.ReadMessage()
		if err != nil {
			b.Fatal(err)
		}
		h, rest, err := wire.ParseHeader(msg)
		if err != nil {
			b.Fatal(err)
		}
		if withAnalysis || !strings.HasPrefix(string(rest), `{"kind":"analysis"`) {
			return h, msg
		}
	}
}

func (b *bench) expectRows(conn *websocket.Conn, from, to uint64) {
	b.Helper()
	var r telemetry.Row
	for seq := from; seq <= to; seq++ {
		h, msg := b.frame(conn, false)
		if _, err := wire.DecodeRow(msg, &r); err != nil || h.Seq != seq || r.Values[0] != float64(seq) {
			b.Fatalf("got %+v %+v (%v), want row %d", h, r, err, seq)
		}
	}
}

func (b *bench) expectEvent(conn *websocket.Conn, kind wire.EventKind) wire.Event {
	b.Helper()
	h, msg := b.frame(conn, kind == wire.EventAnalysis)
	var e wire.Event
	if err := json.Unmarshal(msg[wire.HeaderSize:], &e); err != nil || h.Type != wire.TypeEvent || e.Kind != kind {
		b.Fatalf("got %+v %q (%v), want event %s", h, msg[wire.HeaderSize:], err, kind)
	}
	return e
}

// do sends one request to the handler as a browser on this computer would.
func (b *bench) do(method, path, body string, change ...func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	r.Host, r.RemoteAddr = "127.0.0.1:8080", "127.0.0.1:50000"
	if method == http.MethodPost || method == http.MethodPut || method == http.MethodDelete {
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set(tokenHeader, b.Token())
		r.Header.Set("Origin", "http://127.0.0.1:8080")
	}
	for _, f := range change {
		f(r)
	}
	w := httptest.NewRecorder()
	b.Handler().ServeHTTP(w, r)
	return w
}

func header(name, value string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set(name, value) }
}

func host(name string) func(*http.Request) { return func(r *http.Request) { r.Host = name } }

// refused checks the status, and that the reason is a JSON sentence.
func (b *bench) refused(w *httptest.ResponseRecorder, status int, word string) {
	b.Helper()
	var e wire.Error
	body, _ := io.ReadAll(w.Body)
	if err := json.Unmarshal(body, &e); err != nil || w.Code != status || !strings.Contains(e.Error, word) {
		b.Errorf("got %d %s, want %d and %q in the reason", w.Code, body, status, word)
	}
}

func decode[T any](b *bench, w *httptest.ResponseRecorder) T {
	b.Helper()
	var v T
	if w.Code != http.StatusOK {
		b.Fatalf("status %d: %s", w.Code, w.Body)
	}
	if err := json.Unmarshal(w.Body.Bytes(), &v); err != nil {
		b.Fatal(err)
	}
	return v
}

// setups is a rig of two setups.
type setups struct{ selected string }

func (s *setups) Setups() []wire.RigSetup {
	return []wire.RigSetup{{Name: "fan", Title: "fan cooler"}, {Name: "plate", Title: "plate"}}
}
func (s *setups) Selected() string { return s.selected }
func (s *setups) Select(name string) error {
	if name != "fan" && name != "plate" {
		return fmt.Errorf("there is no setup %q", name)
	}
	s.selected = name
	return nil
}
