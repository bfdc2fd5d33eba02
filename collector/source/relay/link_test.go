package relay

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"soakline/collector/telemetry"
)

// other is a soakline on another computer: it answers as the table says, from rows that
// the test gives it.
type other struct {
	t  *testing.T
	mu sync.Mutex
	layout
	rows   []telemetry.Row // held
	sent   uint64          // given out on the stream
	lose   map[uint64]bool // rows that the stream leaves out
	conn   *websocket.Conn
	joined chan string // "after session" of each viewer
	acks   chan uint64
	asked  int // for rows
}

func newOther(t *testing.T) (*other, *httptest.Server) {
	o := &other{t: t, layout: *offer("one", 0, "a"), lose: map[uint64]bool{}, joined: make(chan string, 10), acks: make(chan uint64, 100)}
	mux := http.NewServeMux()
	mux.HandleFunc("/api/layout", func(w http.ResponseWriter, _ *http.Request) {
		o.mu.Lock()
		defer o.mu.Unlock()
		o.LastSeq = o.sent
		json.NewEncoder(w).Encode(o.layout)
	})
	mux.HandleFunc("/api/rows", func(w http.ResponseWriter, r *http.Request) {
		var after uint64
		fmt.Sscan(r.URL.Query().Get("after"), &after)
		o.mu.Lock()
		defer o.mu.Unlock()
		o.asked++
		for _, row := range o.rows {
			if row.Seq > after && row.Seq <= o.sent {
				msg := o.encode(row)
				w.Write(binary.LittleEndian.AppendUint32(nil, uint32(len(msg))))
				w.Write(msg)
			}
		}
	})
	mux.HandleFunc("/api/stream", func(w http.ResponseWriter, r *http.Request) {
		conn, err := (&websocket.Upgrader{}).Upgrade(w, r, nil)
		if err != nil {
			return
		}
		o.mu.Lock()
		o.conn = conn
		o.mu.Unlock()
		o.joined <- r.URL.Query().Get("after") + " " + r.URL.Query().Get("session")
		for {
			var ack struct{ Seq uint64 }
			if conn.ReadJSON(&ack) != nil {
				return
			}
			o.acks <- ack.Seq
		}
	})
	web := httptest.NewServer(mux)
	t.Cleanup(web.Close)
	return o, web
}

// encode is the table of a row, value by value.
func (o *other) encode(r telemetry.Row) []byte {
	b := []byte{1, 1}
	b = binary.LittleEndian.AppendUint16(b, uint16(len(r.Values)))
	b = binary.LittleEndian.AppendUint32(b, o.ChannelsVersion)
	b = binary.LittleEndian.AppendUint64(b, r.Seq)
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(r.At))
	b = binary.LittleEndian.AppendUint32(b, 0)
	for _, v := range r.Values {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(v)))
	}
	for _, s := range r.States {
		b = append(b, byte(s))
	}
	return b
}

// tell sends rows up to number seq, but for those it loses, or events.
func (o *other) tell(seq uint64, events ...string) {
	o.t.Helper()
	o.mu.Lock()
	defer o.mu.Unlock()
	for o.sent < seq {
		o.sent++
		row := telemetry.Row{Seq: o.sent, At: float64(o.sent) / 10}
		for range o.Channels {
			row.Values, row.States = append(row.Values, float64(o.sent)), append(row.States, telemetry.Fresh)
		}
		o.rows = append(o.rows, row)
		if !o.lose[o.sent] {
			o.send(o.encode(row))
		}
	}
	for _, e := range events {
		o.send(append([]byte{1, 2, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0}, e...))
	}
}

func (o *other) send(msg []byte) {
	if err := o.conn.WriteMessage(websocket.BinaryMessage, msg); err != nil {
		o.t.Error(err)
	}
}

func (o *other) change(f func()) {
	o.mu.Lock()
	defer o.mu.Unlock()
	f()
}

// link makes contact and waits for it.
func contact(t *testing.T, o *other, web *httptest.Server) *Source {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	s, err := New(ctx, web.URL, Config{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { stop(); <-s.Done() })
	if got := <-o.joined; got != "0 one" {
		t.Fatalf("joined after %q", got)
	}
	return s
}

// expect takes what came and checks that it is these rows and texts, in this order.
func expect(t *testing.T, s *Source, want ...any) {
	t.Helper()
	for _, w := range want {
		select {
		case it := <-s.items:
			got := any(it.row.Seq)
			switch {
			case it.mark != nil:
				got = it.mark.Text
			case it.text != "":
				got = it.text
			}
			if fmt.Sprint(got) != fmt.Sprint(w) {
				t.Fatalf("%v came, want %v", got, w)
			}
		case <-time.After(10 * time.Second):
			t.Fatalf("%v did not come", w)
		}
	}
}

// TestRowsComeOnce: rows that the stream leaves out are fetched in their place, also
// over a lost connection; those that are gone for good are passed over.
func TestRowsComeOnce(t *testing.T) {
	o, web := newOther(t)
	s := contact(t, o, web)
	o.change(func() { o.lose = map[uint64]bool{3: true, 4: true, 5: true} })
	o.tell(7)
	expect(t, s, 1, 2, 3, 4, 5, 6, 7)
	o.change(func() { o.conn.Close() })
	if got := <-o.joined; got != "7 one" {
		t.Errorf("joined again after %q", got)
	}
	o.tell(9)
	expect(t, s, 8, 9)
	o.change(func() { o.lose[10], o.lose[11] = true, true })
	o.tell(11)
	o.change(func() { o.rows = o.rows[:9] })
	o.tell(13)
	expect(t, s, 12, 13)
	if seq := <-o.acks; seq == 0 || seq > 13 {
		t.Errorf("acknowledged %d", seq)
	}
	if o.asked == 0 {
		t.Error("nothing was fetched")
	}
}

// TestEvents: marks once, corrected ones again, conditions and channels by another
// opening, and the end.
func TestEvents(t *testing.T) {
	o, web := newOther(t)
	s := contact(t, o, web)
	o.tell(1, `{"kind":"mark","mark":{"id":1,"at_s":0.1,"kind":"user","text":"panel on"}}`, `{"kind":"mark","mark":{"id":1,"at_s":0.1,"kind":"user","text":"panel on"}}`,
		`{"kind":"mark","mark":{"id":1,"at_s":0.1,"kind":"user","text":"panel off"}}`, `{"kind":"analysis","say":{}}`)
	expect(t, s, 1, "panel on", "panel off (corrected)")
	s.Open(t.Context())
	o.tell(2, `{"kind":"setup","setup":[{"key":"paste","value":"new"}]}`)
	expect(t, s, 2)
	<-s.Changed()
	inv := s.Open(t.Context())
	if got := fmt.Sprint(inv.Conditions); got != "[{measured on dome} {session there one} {paste new} {cooler }]" {
		t.Error(got)
	}
	o.change(func() {
		o.Setup = []setting{{"paste", "new"}}
		o.Channels = append(o.Channels, channel{Key: "b", Name: "b", Quantity: "power"})
		o.ChannelsVersion++
		o.Marks = []mark{{1, 0.1, "user", "panel off"}, {2, 0.2, "user", "while away"}}
	})
	o.tell(3, `{"kind":"layout"}`) // row 3 comes before the event, with the new version
	expect(t, s, "while away", 3)
	<-s.Changed()
	if inv = s.Open(t.Context()); len(inv.Groups[0].Channels) != 2 {
		t.Errorf("%+v", inv.Groups)
	}
	o.tell(3, `{"kind":"end","why":"stopped"}`)
	expect(t, s, "the session on dome ended: stopped")
}

// TestStartedAnew: another session is followed from its newest row.
func TestStartedAnew(t *testing.T) {
	o, web := newOther(t)
	s := contact(t, o, web)
	o.tell(5)
	expect(t, s, 1, 2, 3, 4, 5)
	o.change(func() {
		o.layout, o.rows, o.sent = *offer("two", 0, "a"), nil, 2
		o.conn.Close()
	})
	if got := <-o.joined; got != "2 two" {
		t.Errorf("joined after %q", got)
	}
	o.tell(4)
	expect(t, s, 3, 4)
}

// TestNoSoakline: who answers wrongly, or not at all, is named at the start.
func TestNoSoakline(t *testing.T) {
	for body, want := range map[string]string{"hello": "is no soakline", "{}": "is no soakline", `{"version":9,"session":{"id":"x"}}`: "version 9",
		`{"error":"this name is not served here"}`: "this name is not served here"} {
		web := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			if strings.Contains(body, "error") {
				w.WriteHeader(http.StatusMisdirectedRequest)
			}
			w.Write([]byte(body))
		}))
		_, err := New(t.Context(), web.URL, Config{})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", body, err)
		}
		web.Close()
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ln.Close()
	if _, err := New(t.Context(), ln.Addr().String(), Config{}); err == nil || !strings.Contains(err.Error(), "no soakline answers at http://127.0.0.1:") {
		t.Error(err)
	}
}
