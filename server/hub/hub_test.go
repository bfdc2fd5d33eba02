package hub

import (
	"encoding/binary"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gorilla/websocket"
)

// The messages of these tests: a letter, then a number. "r" row, "e" event, "s" state,
// "k" skip with the next row, "l" events were lost.
func message(kind byte, n uint64) []byte {
	return binary.LittleEndian.AppendUint64([]byte{kind}, n)
}

func text(b []byte) string {
	return fmt.Sprintf("%c%d", b[0], binary.LittleEndian.Uint64(b[1:]))
}

// clock is stepped by hand.
type clock struct{ ns atomic.Int64 }

func (c *clock) now() time.Time       { return time.Unix(0, c.ns.Load()) }
func (c *clock) step(d time.Duration) { c.ns.Add(int64(d)) }

type bench struct {
	*testing.T
	hub   *Hub
	clock clock
	url   string
}

func newBench(t *testing.T, c Config) *bench {
	b := &bench{T: t}
	c.Now = b.clock.now
	c.Ack = func(p []byte) (uint64, error) {
		if len(p) != 9 || p[0] != 'a' {
			return 0, errors.New("expected an a and a number")
		}
		return binary.LittleEndian.Uint64(p[1:]), nil
	}
	c.Skip = func(next uint64, lost bool) [][]byte {
		if lost {
			return [][]byte{message('k', next), message('l', 0)}
		}
		return [][]byte{message('k', next)}
	}
	b.hub = New(c)
	up := websocket.Upgrader{}
	web := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		conn, err := up.Upgrade(w, r, nil)
		if err != nil {
			return
		}
		var after *uint64
		if q := r.URL.Query(); q.Has("after") {
			after = new(uint64)
			fmt.Sscan(q.Get("after"), after)
		}
		b.hub.Serve(conn, after)
	}))
	b.url = "ws" + strings.TrimPrefix(web.URL, "http")
	t.Cleanup(func() { b.hub.Close(); web.Close() })
	return b
}

// dial connects and returns once the hub counts the viewer.
func (b *bench) dial(query string) *websocket.Conn {
	b.Helper()
	before := b.hub.Viewers()
	conn, _, err := websocket.DefaultDialer.Dial(b.url+query, nil)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { conn.Close() })
	b.until("the viewer has joined", func() bool { return b.hub.Viewers() > before })
	return conn
}

func (b *bench) until(what string, done func() bool) {
	b.Helper()
	for end := time.Now().Add(10 * time.Second); !done(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			b.Fatalf("waited in vain until %s", what)
		}
	}
}

func (b *bench) rows(from, to uint64) {
	for seq := from; seq <= to; seq++ {
		b.hub.Row(seq, message('r', seq))
	}
}

func (b *bench) expect(conn *websocket.Conn, want ...string) {
	b.Helper()
	conn.SetReadDeadline(time.Now().Add(10 * time.Second))
	for _, w := range want {
		_, got, err := conn.ReadMessage()
		if err != nil {
			b.Fatalf("waiting for %s: %v", w, err)
		}
		if text(got) != w {
			b.Fatalf("got %s, want %s", text(got), w)
		}
	}
}

func (b *bench) expectRows(conn *websocket.Conn, from, to uint64) {
	b.Helper()
	for seq := from; seq <= to; seq++ {
		b.expect(conn, fmt.Sprintf("r%d", seq))
	}
}

func (b *bench) expectClose(conn *websocket.Conn, code int) {
	b.Helper()
	conn.SetReadDeadline(time.Now().Add(10 * time.Second))
	for {
		_, _, err := conn.ReadMessage()
		if err == nil {
			continue
		}
		if !websocket.IsCloseError(err, code) {
			b.Fatalf("ended with %v, want close code %d", err, code)
		}
		return
	}
}

func ack(t *testing.T, conn *websocket.Conn, seq uint64) {
	t.Helper()
	if err := conn.WriteMessage(websocket.TextMessage, message('a', seq)); err != nil {
		t.Fatal(err)
	}
}

func TestNewViewerStartsLive(t *testing.T) {
	b := newBench(t, Config{})
	b.rows(1, 5)
	b.hub.State(message('s', 1))
	b.hub.State(message('s', 2))
	conn := b.dial("")
	b.expect(conn, "s2") // the newest state alone
	b.rows(6, 8)
	b.hub.Event(message('e', 1))
	b.rows(9, 9)
	b.expect(conn, "r6", "r7", "r8", "e1", "r9")
}

func TestResume(t *testing.T) {
	const resume = 600
	for _, c := range []struct {
		name, query string
		rows        uint64
		want        []string // before row rows+1
	}{
		{"from the start", "?after=0", 3, []string{"r1", "r2", "r3"}},
		{"in the middle", "?after=2", 3, []string{"r3"}},
		{"nothing missed", "?after=3", 3, nil},
		{"just within", "?after=2", resume + 2, nil},
		{"too many", "?after=1", resume + 2, []string{"k603", "l0"}},
		{"gone", "?after=1", 5000, []string{"k5001", "l0"}},
		{"another session's", "?after=99", 3, []string{"k4", "l0"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, Config{Resume: resume})
			b.rows(1, c.rows)
			conn := b.dial(c.query)
			if c.name == "just within" {
				b.expectRows(conn, 3, c.rows)
			}
			b.expect(conn, c.want...)
			b.rows(c.rows+1, c.rows+1)
			b.expectRows(conn, c.rows+1, c.rows+1)
		})
	}
}

// What was missed is old by nature: the rule about lag must not cut it off.
func TestResumeTakesItsTime(t *testing.T) {
	b := newBench(t, Config{})
	b.rows(1, 10)
	b.hub.Event(message('e', 7))
	b.clock.step(time.Minute)
	conn := b.dial("?after=4")
	b.expectRows(conn, 5, 10)
	b.expect(conn, "e7")
}

// A viewer whose page falls behind is moved to now, and told what it lost.
func TestSlowViewerSkips(t *testing.T) {
	b := newBench(t, Config{})
	conn := b.dial("")
	b.rows(1, 10)
	b.hub.Event(message('e', 1))
	b.expectRows(conn, 1, 10)
	b.expect(conn, "e1")
	b.clock.step(1900 * time.Millisecond)
	ack(t, conn, 5) // row 6 has waited for 1.9 s
	b.rows(11, 11)
	b.expectRows(conn, 11, 11)
	b.clock.step(200 * time.Millisecond)
	ack(t, conn, 5)
	b.expect(conn, "k12") // nothing but rows was left out
	ack(t, conn, 8)       // on its way before the skip: no news
	b.rows(12, 13)
	b.expectRows(conn, 12, 13)
	b.clock.step(10 * time.Second)
	ack(t, conn, 13) // all drawn, however long ago
	b.hub.Event(message('e', 2))
	b.expect(conn, "e2")
}

// A viewer whose writer was held up goes on at now, not with what is old by then. Here
// the writer is the test.
func TestHeldUpViewerSkips(t *testing.T) {
	var c clock
	h := New(Config{Now: c.now, Skip: func(next uint64, lost bool) [][]byte { return [][]byte{message('k', next)} }})
	v := &viewer{hub: h, wake: make(chan struct{}, 1)}
	h.join(v, nil)
	for seq := uint64(1); seq <= 3; seq++ {
		h.Row(seq, message('r', seq))
		c.step(time.Second)
	}
	for _, want := range []string{"k4", ""} { // row 1 has waited for 3 s
		if got := h.next(v); want == "" && got != nil || want != "" && text(got) != want {
			t.Fatalf("got %q, want %q", got, want)
		}
	}
	h.Row(4, message('r', 4))
	c.step(2 * time.Second) // just within
	if got := h.next(v); text(got) != "r4" {
		t.Errorf("got %s, want r4", text(got))
	}
}

// blocked fills a viewer's pipes by large messages until its writer hangs.
func (b *bench) blocked() *websocket.Conn {
	conn := b.dial("")
	for range 200 {
		b.hub.Event(make([]byte, 64<<10))
	}
	return conn
}

// A viewer that does not read costs the others and the publisher nothing, and sees only
// a skip of what it missed.
func TestStalledViewerBlocksNobody(t *testing.T) {
	b := newBench(t, Config{})
	stalled := b.blocked()
	good := b.dial("")
	for seq := uint64(1); seq <= 2000; seq++ {
		b.rows(seq, seq)
		b.expectRows(good, seq, seq) // one by one: publishing never waits for the other
	}
	b.rows(2001, 2001)
	stalled.SetReadDeadline(time.Now().Add(10 * time.Second))
	next, skips := uint64(1), 0
	for next <= 2001 {
		_, msg, err := stalled.ReadMessage()
		if err != nil {
			t.Fatal(err)
		}
		if len(msg) > 9 || msg[0] == 'l' {
			continue
		}
		switch n := binary.LittleEndian.Uint64(msg[1:]); {
		case msg[0] == 'k':
			skips++
			next = n
		case n != next:
			t.Fatalf("got %s without a skip, want row %d", text(msg), next)
		default:
			next++
		}
	}
	if skips == 0 {
		t.Error("a viewer that had missed a thousand rows was not told")
	}
}

func TestViewersThatMisbehaveAreClosed(t *testing.T) {
	for _, c := range []struct {
		name string
		say  func(*websocket.Conn) error
		code int
	}{
		{"too long", func(c *websocket.Conn) error { return c.WriteMessage(websocket.TextMessage, make([]byte, 513)) }, websocket.CloseMessageTooBig},
		{"binary", func(c *websocket.Conn) error { return c.WriteMessage(websocket.BinaryMessage, message('a', 1)) }, websocket.CloseUnsupportedData},
		{"malformed", func(c *websocket.Conn) error { return c.WriteMessage(websocket.TextMessage, []byte("{")) }, websocket.ClosePolicyViolation},
		{"too often", func(c *websocket.Conn) error {
			for range 11 {
				if err := c.WriteMessage(websocket.TextMessage, message('a', 0)); err != nil {
					return err
				}
			}
			return nil
		}, websocket.ClosePolicyViolation},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, Config{})
			conn := b.dial("")
			if err := c.say(conn); err != nil {
				t.Fatal(err)
			}
			b.expectClose(conn, c.code)
			b.until("the viewer has left", func() bool { return b.hub.Viewers() == 0 })
		})
	}
}

func TestNoMoreViewersThanAllowed(t *testing.T) {
	b := newBench(t, Config{MaxViewers: 1})
	first := b.dial("")
	if !b.hub.Full() {
		t.Error("the hub is not full with one viewer of one")
	}
	second, _, err := websocket.DefaultDialer.Dial(b.url, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer second.Close()
	b.expectClose(second, websocket.CloseTryAgainLater)
	b.rows(1, 1)
	b.expectRows(first, 1, 1)
}

// A viewer whose computer is gone says nothing any more, and is let go.
func TestSilentViewerIsLetGo(t *testing.T) {
	b := newBench(t, Config{Ping: 10 * time.Millisecond, Silence: 50 * time.Millisecond})
	conn := b.dial("")
	conn.SetPingHandler(func(string) error { return nil }) // reads, but answers no ping
	go func() {
		for {
			if _, _, err := conn.ReadMessage(); err != nil {
				return
			}
		}
	}()
	b.until("the silent viewer has left", func() bool { return b.hub.Viewers() == 0 })
}

func TestCloseSendsWhatIsLeftAndSaysGoodbye(t *testing.T) {
	b := newBench(t, Config{})
	stalled := b.blocked()
	conn := b.dial("")
	b.hub.Event(message('e', 9))
	start := time.Now()
	b.hub.Close()
	if took := time.Since(start); took > 5*farewell {
		t.Errorf("a viewer that does not read held the end up for %v", took)
	}
	var last []byte
	for {
		_, msg, err := conn.ReadMessage()
		if websocket.IsCloseError(err, websocket.CloseGoingAway) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		last = msg
	}
	if text(last) != "e9" {
		t.Errorf("the last message was %s", text(last))
	}
	if b.hub.Viewers() != 0 {
		t.Error("viewers are left")
	}
	stalled.Close()
	late, _, err := websocket.DefaultDialer.Dial(b.url, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer late.Close()
	b.expectClose(late, websocket.CloseTryAgainLater)
}
