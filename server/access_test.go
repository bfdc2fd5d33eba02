package server

import (
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"testing"

	"github.com/go-chi/chi/v5"
	"github.com/gorilla/websocket"

	"soakline/server/wire"
)

// routes walks every route of the server, with names filled in.
func (b *bench) routes() (all [][2]string) {
	b.Helper()
	walk := func(method, route string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		all = append(all, [2]string{method, strings.NewReplacer("sessions/{id}", "sessions/20260102-030405-aaa", "{id}", "1", "{file}", "app.js").Replace(route)})
		return nil
	}
	if err := chi.Walk(b.Handler().(chi.Routes), walk); err != nil || len(all) < 12 {
		b.Fatalf("%d routes, %v", len(all), err)
	}
	return all
}

// DNS rebinding: a name that an attacker points here is refused on every route, whatever
// else is right. (OWASP Server Side Request Forgery and WebSocket cheat sheets; RFC 9110,
// 15.5.20 for the status.)
func TestForeignHostIsRefusedEverywhere(t *testing.T) {
	b := newBench(t, Config{Rig: &setups{selected: "fan"}})
	for _, route := range append(b.routes(), [2]string{"GET", "/nothing/here"}) {
		w := b.do(route[0], route[1], `{}`, host("evil.test:8080"), header("Origin", "http://evil.test:8080"))
		if w.Code != http.StatusMisdirectedRequest {
			t.Errorf("%s %s: status %d", route[0], route[1], w.Code)
		}
	}
}

func TestHosts(t *testing.T) {
	narrow := newAccess(Config{Hosts: []string{"Bench.Example"}}, "")
	wide := newAccess(Config{Wide: true}, "")
	for _, c := range []struct {
		host         string
		narrow, wide bool
	}{
		{"localhost", true, true}, {"localhost:8080", true, true}, {"LOCALHOST.:8080", true, true},
		{"127.0.0.1:8080", true, true}, {"127.9.9.9", true, true}, {"[::1]:8080", true, true}, {"[::1]", true, true},
		{"[::ffff:127.0.0.1]:80", true, true},
		{"bench.example:1", true, false}, {"bench.example.", true, false},
		{"192.0.2.7:8080", false, true}, {"[2001:db8::1]:8080", false, true}, {"0.0.0.0:8080", false, true},
		{"", false, false}, {":8080", false, false}, {"evil.test", false, false}, {"localhost.evil.test", false, false},
		{"127.0.0.1.evil.test", false, false}, {"127.0.0.1@evil.test", false, false}, {"127.1", false, false},
		{"2130706433", false, false}, {"0x7f000001", false, false}, {"localhost:8080:1", false, false},
		{"[evil.test]:80", false, false}, {"xn--localhost-", false, false},
	} {
		if narrow.hostAllowed(c.host) != c.narrow || wide.hostAllowed(c.host) != c.wide {
			t.Errorf("%q: narrow %v, wide %v; want %v, %v", c.host, narrow.hostAllowed(c.host), wide.hostAllowed(c.host), c.narrow, c.wide)
		}
	}
}

func TestReachable(t *testing.T) {
	for addr, want := range map[string]bool{"127.0.0.1:1": false, "[::1]:1": false, "[::ffff:127.0.0.1]:1": false,
		"0.0.0.0:1": true, "[::]:1": true, "192.0.2.7:1": true, "[fe80::1%eth0]:1": true} {
		if got := Reachable(net.TCPAddrFromAddrPort(netip.MustParseAddrPort(addr))); got != want {
			t.Errorf("%s: %v, want %v", addr, got, want)
		}
	}
}

// Cross-site requests: OWASP Cross-Site Request Forgery Prevention Cheat Sheet, "Using
// Standard Headers to Verify Origin" and "Fetch Metadata headers".
func TestOtherPagesAreRefused(t *testing.T) {
	b := newBench(t, Config{})
	foreign := header("Origin", "http://evil.test")
	for _, path := range []string{"/api/layout", "/api/rows", "/api/analysis", "/api/trace.csv"} {
		b.refused(b.do("GET", path, "", foreign), http.StatusForbidden, "another page")
		for _, site := range []string{"cross-site", "same-site"} {
			b.refused(b.do("GET", path, "", header("Sec-Fetch-Site", site)), http.StatusForbidden, "another page")
		}
	}
	b.refused(b.do("POST", "/api/marks", `{"text":"x"}`, foreign), http.StatusForbidden, "another page")
	two := func(r *http.Request) { r.Header["Origin"] = []string{"http://127.0.0.1:8080", "http://evil.test"} }
	b.refused(b.do("POST", "/api/marks", `{"text":"x"}`, two), http.StatusForbidden, "another page")
	if len(b.session.Marks()) != 0 {
		t.Error("a mark was made by another page")
	}
	// A link from elsewhere may lead to the page itself.
	if w := b.do("GET", "/", "", header("Sec-Fetch-Site", "cross-site")); w.Code == http.StatusForbidden {
		t.Error("a link to the page was refused")
	}
	if w := b.do("GET", "/api/layout", "", header("Sec-Fetch-Site", "same-origin")); w.Code != http.StatusOK {
		t.Errorf("the page's own request was refused: %d", w.Code)
	}
}

func TestChangesNeedTheToken(t *testing.T) {
	b := newBench(t, Config{Rig: &setups{selected: "fan"}})
	changes := 0
	for _, route := range b.routes() {
		if route[0] != "POST" && route[0] != "PUT" && route[0] != "DELETE" {
			if route[0] != "GET" && route[0] != "HEAD" {
				t.Errorf("%s %s: a method that nothing is said about", route[0], route[1])
			}
			continue
		}
		changes++
		missing := func(r *http.Request) { r.Header.Del(tokenHeader) }
		for _, change := range []func(*http.Request){missing, header(tokenHeader, ""), header(tokenHeader, b.Token()[1:]),
			header(tokenHeader, strings.ToLower(b.Token()))} {
			b.refused(b.do(route[0], route[1], `{}`, change), http.StatusForbidden, "token")
		}
	}
	if changes != 14 {
		t.Errorf("%d routes change something, 14 are known", changes)
	}
	if s, other := New(Config{Session: b.session}), b.Token(); s.Token() == other || len(other)*5 < 128 {
		t.Errorf("token %q: needs 128 bits, anew for each start", other) // base 32: 5 bits a letter
	}
}

// Who is on another computer may look, and is not given what changes need.
func TestTokenStaysOnThisComputer(t *testing.T) {
	b := newBench(t, Config{Wide: true})
	for from, want := range map[string]string{"127.0.0.1:5": b.Token(), "[::1]:5": b.Token(), "192.0.2.7:5": "", "": ""} {
		l := decode[wire.Layout](b, b.do("GET", "/api/layout", "", func(r *http.Request) { r.RemoteAddr = from }))
		if l.Token != want {
			t.Errorf("from %q: token %q", from, l.Token)
		}
	}
}

// OWASP Content Security Policy Cheat Sheet (strict policy) and HTTP Security Response
// Headers Cheat Sheet: on every answer, refusals included.
func TestHeadersOnEveryAnswer(t *testing.T) {
	b := newBench(t, Config{})
	for name, w := range map[string]*httptest.ResponseRecorder{
		"page": b.do("GET", "/", ""), "layout": b.do("GET", "/api/layout", ""), "not found": b.do("GET", "/a/b/c", ""),
		"method": b.do("DELETE", "/api/layout", ""), "host": b.do("GET", "/", "", host("evil.test")),
		"origin": b.do("GET", "/api/rows", "", header("Origin", "null")),
	} {
		h := w.Header()
		csp := h.Get("Content-Security-Policy")
		for _, want := range []string{"default-src 'none'", "script-src 'self'", "connect-src 'self'", "base-uri 'none'",
			"form-action 'none'", "frame-ancestors 'none'"} {
			if !strings.Contains(csp, want) {
				t.Errorf("%s: policy %q lacks %s", name, csp, want)
			}
		}
		for _, script := range []string{"unsafe-eval", "script-src 'self' ", "*", "http:"} {
			if strings.Contains(csp, script) {
				t.Errorf("%s: policy %q allows %s", name, csp, script)
			}
		}
		for header, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer",
			"X-Frame-Options": "DENY", "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin"} {
			if h.Get(header) != want {
				t.Errorf("%s: %s is %q, want %q", name, header, h.Get(header), want)
			}
		}
		if h.Get("Permissions-Policy") == "" || h.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("%s: headers %v", name, h)
		}
	}
}

func TestMethodsAreRestricted(t *testing.T) {
	b := newBench(t, Config{})
	for _, route := range [][2]string{{"POST", "/api/layout"}, {"DELETE", "/api/marks/1"}, {"GET", "/api/marks"}, {"PUT", "/api/stream"}, {"POST", "/"},
		{"TRACE", "/"}, {"OPTIONS", "/api/marks"}} {
		b.refused(b.do(route[0], route[1], ""), http.StatusMethodNotAllowed, route[0])
	}
}

// More connections than are served: those that are go on, and the others are told. (OWASP
// WebSocket Security Cheat Sheet: limit connections, as a protection against exhaustion.)
func TestManyConnections(t *testing.T) {
	b := newBench(t, Config{})
	const served, all = 512, 600
	var conns []*websocket.Conn
	for i := range all {
		conn, answer, err := websocket.DefaultDialer.Dial("ws://"+b.host+"/api/stream", nil)
		if i < served {
			if err != nil {
				t.Fatalf("viewer %d: %v", i, err)
			}
			defer conn.Close()
			conns = append(conns, conn)
			b.until("it has joined", func() bool { return b.Viewers() == i+1 })
		} else if answer == nil || answer.StatusCode != http.StatusServiceUnavailable {
			t.Fatalf("viewer %d: %v", i, err)
		}
	}
	b.feed(5)
	for _, conn := range conns {
		b.expectRows(conn, 1, 5)
	}
	if w := b.do("GET", "/healthz", ""); w.Code != http.StatusOK {
		t.Errorf("healthz: %d", w.Code)
	}
	conns[0].Close()
	b.until("its place is free", func() bool { return b.Viewers() == served-1 })
	b.dial("")
}
