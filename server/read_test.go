package server

import (
	"encoding/json"
	"math"
	"net/http"
	"strings"
	"testing"
	"testing/fstest"

	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
	"soakline/server/wire"
)

func TestLayout(t *testing.T) {
	b := newBench(t, Config{Rig: &setups{selected: "fan"}, LimitC: 90})
	b.feed(3)
	b.session.Mark(telemetry.Mark{At: 0.1, Text: "x"})
	w := b.do("GET", "/api/layout", "")
	l := decode[wire.Layout](b, w)
	if !l.Session.Simulated || l.Session.ID != b.session.Info().ID || l.Session.PeriodS != 0.1 || l.LastSeq != 3 || l.LimitC != 90 {
		t.Errorf("layout %+v", l)
	}
	if len(l.Channels) != 5 || l.Channels[1].Unit != "°C" || l.Channels[1].Role != "die" || l.Channels[1].Name != "die <b>temperature</b>" {
		t.Errorf("channels %+v", l.Channels)
	}
	if len(l.States) != telemetry.NumStates || l.States[telemetry.Fresh] != "" || l.States[telemetry.GapGone] == "" {
		t.Errorf("states %q", l.States)
	}
	for i, want := range []struct {
		id       string
		channels []int
		limits   string
	}{
		{"power", []int{0}, "long-term limit"}, {"temperature", []int{1, 2}, userLimit}, {"clock", []int{3}, ""},
	} {
		lane := l.Lanes[i]
		var limits []string
		for _, limit := range lane.Limits {
			limits = append(limits, limit.Name)
		}
		if lane.ID != want.id || len(lane.Channels) != len(want.channels) || strings.Join(limits, ",") != want.limits {
			t.Errorf("lane %+v, want %+v", lane, want)
		}
		var option struct{ Series []struct{ ID, Name string } }
		if err := json.Unmarshal(l.Charts[lane.ID], &option); err != nil || len(option.Series) < len(lane.Channels)+len(lane.Limits) {
			t.Errorf("chart of %s: %+v, %v", lane.ID, option, err)
		}
	}
	if strings.Contains(w.Body.String(), "<b>") {
		t.Error("a name leaves unescaped")
	}
	for _, list := range []string{`"missing":[]`, `"labels":[]`, `"bits":[]`, `"more":[]`} {
		if !strings.Contains(w.Body.String(), list) {
			t.Errorf("no %s: an empty list must not be null", list)
		}
	}
}

// Every bucket of a history holds what the rows hold.
func TestHistoryAgreesWithTheRows(t *testing.T) {
	b := newBench(t, Config{})
	b.feed(100) // 0 to 9.9 s, value of channel 0 = seq
	h, err := wire.DecodeHistory(b.do("GET", "/api/history?from=0&to=100&buckets=50", "").Body.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	if h.Channels != 5 || h.Buckets != 10 || h.WidthS != 1 || h.FromS != 0 || h.LastSeq != 100 {
		t.Fatalf("history %+v", h)
	}
	for i := range h.Buckets {
		low, high := float32(10*i+1), float32(10*i+10)
		if h.Min[i] != low || h.Max[i] != high || h.Mean[i] != (low+high)/2 {
			t.Errorf("bucket %d: %v %v %v", i, h.Min[i], h.Mean[i], h.Max[i])
		}
	}
}

func TestBadQueriesAreRefused(t *testing.T) {
	b := newBench(t, Config{})
	for path, word := range map[string]string{
		"/api/rows?after=x": "after", "/api/rows?max=0": "max", "/api/rows?max=6001": "6000", "/api/rows?after=-1": "after",
		"/api/history": "from", "/api/history?from=0": "to", "/api/history?from=NaN&to=1": "from", "/api/history?from=0&to=Inf": "to",
		"/api/history?from=2&to=1": "before", "/api/history?from=0&to=1&buckets=2001": "2000", "/api/history?from=0&to=1&buckets=0": "buckets",
	} {
		b.refused(b.do("GET", path, ""), http.StatusBadRequest, word)
	}
	b.refused(b.do("GET", "/api/trace.csv", ""), http.StatusConflict, "nothing is recorded")
}

func TestRowsInPieces(t *testing.T) {
	b := newBench(t, Config{})
	b.feed(1500)
	for _, c := range []struct{ query, first, rows string }{{"?after=0&max=1300", "1", "1300"}, {"?after=1490", "1491", "10"}, {"?after=1500", "", "0"}, {"?after=9999", "", "0"}} {
		body := b.do("GET", "/api/rows"+c.query, "").Body.Bytes()
		if want := map[string]int{"1300": 1300, "10": 10, "0": 0}[c.rows]; len(body) != want*(4+wire.RowSize(5)) {
			t.Errorf("%s: %d bytes, want %d rows", c.query, len(body), want)
		}
	}
}

func TestTraceReadsBack(t *testing.T) {
	b := newBench(t, Config{})
	b.feed(20)
	w := b.do("GET", "/api/trace.csv", "")
	tr, err := tracefile.Read(w.Body, tracefile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	die := tr.Index(telemetry.RoleDie)
	if len(tr.Time) != 20 || die < 0 || math.Abs(tr.Values[die][19]-20.125) > 1e-3 {
		t.Errorf("%d samples, die channel %d", len(tr.Time), die)
	}
	if !strings.Contains(w.Header().Get("Content-Disposition"), b.session.Info().ID) {
		t.Errorf("headers %v", w.Header())
	}
}

func TestPageIsMissing(t *testing.T) {
	for _, c := range []Config{{}, {Page: fstest.MapFS{".keep": {}}}} {
		b := newBench(t, c)
		if w := b.do("GET", "/", ""); w.Code != http.StatusServiceUnavailable || !strings.Contains(w.Body.String(), "go generate ./web") {
			t.Errorf("status %d: %s", w.Code, w.Body)
		}
	}
}

func TestPageFiles(t *testing.T) {
	page := fstest.MapFS{
		"index.html": {Data: []byte("<!doctype html>")}, "index.html.gz": {Data: []byte("packed page")},
		"app.js": {Data: []byte("script")}, "app.js.gz": {Data: []byte("packed")}, "app-1A2B3C4D.js": {Data: []byte("hashed")},
		"font.woff2": {Data: []byte("font")}, ".stamp": {Data: []byte("secret")}, "sub/x.js": {Data: []byte("x")},
	}
	b := newBench(t, Config{Page: page})
	gzip := header("Accept-Encoding", "br, gzip;q=0.8")
	for _, c := range []struct {
		path          string
		change        func(*http.Request)
		body          string
		cache, coding string
		kind          string
	}{
		{"/", gzip, "packed page", "no-store", "gzip", "text/html; charset=utf-8"},
		{"/app.js", gzip, "packed", "no-cache", "gzip", "text/javascript; charset=utf-8"},
		{"/app.js", header("Accept-Encoding", "gzip;q=0"), "script", "no-cache", "", "text/javascript; charset=utf-8"},
		{"/app.js", header("Accept-Encoding", "br"), "script", "no-cache", "", "text/javascript; charset=utf-8"},
		{"/app-1A2B3C4D.js", gzip, "hashed", "public, max-age=31536000, immutable", "", "text/javascript; charset=utf-8"},
		{"/font.woff2", gzip, "font", "no-cache", "", "font/woff2"},
	} {
		w := b.do("GET", c.path, "", c.change)
		h := w.Header()
		if w.Code != 200 || w.Body.String() != c.body || h.Get("Cache-Control") != c.cache || h.Get("Content-Encoding") != c.coding ||
			h.Get("Content-Type") != c.kind || h.Get("Vary") != "Accept-Encoding" {
			t.Errorf("%s: %d %q %v", c.path, w.Code, w.Body, h)
		}
		again := b.do("GET", c.path, "", c.change, header("If-None-Match", h.Get("ETag")))
		if again.Code != http.StatusNotModified || again.Body.Len() != 0 {
			t.Errorf("%s asked for again: %d", c.path, again.Code)
		}
	}
	if w := b.do("HEAD", "/app.js", ""); w.Code != 200 || w.Body.Len() != 0 || w.Header().Get("Content-Length") != "6" {
		t.Errorf("HEAD: %d %q %v", w.Code, w.Body, w.Header())
	}
	// Path tricks lead nowhere: only names known at the start are answered.
	for _, path := range []string{"/.stamp", "/app.js.gz", "/sub", "/sub/x.js", "/..%2f..%2fetc%2fpasswd", "/../server.go", "/%2e%2e/x", "/app.js/", "//app.js", "/app.js%00"} {
		if w := b.do("GET", path, ""); w.Code != http.StatusNotFound {
			t.Errorf("%s: status %d", path, w.Code)
		}
	}
}
