package server

import (
	"bufio"
	"errors"
	"io"
	"net/http"
	"strings"
	"testing"

	"soakline/server/wire"
)

// pushed keeps what was pushed; it refuses lines that begin with "bad".
type pushed struct{ lines []string }

func (p *pushed) push(in io.Reader) (taken int, refused []wire.FeedRefused, err error) {
	sc := bufio.NewScanner(in)
	for n := 1; sc.Scan(); n++ {
		if strings.HasPrefix(sc.Text(), "bad") {
			refused = append(refused, wire.FeedRefused{Line: n, Reason: "it is bad"})
			continue
		}
		p.lines = append(p.lines, sc.Text())
		taken++
	}
	return taken, refused, sc.Err()
}

func TestPushFeed(t *testing.T) {
	var p pushed
	b := newBench(t, Config{Feed: p.push})
	w := b.do("POST", "/api/feed", "flow 1.2 L/min\nbad\nflow 1.3 L/min\n", header("Content-Type", "text/plain"))
	if a := decode[wire.FeedAnswer](b, w); a.Taken != 2 || len(a.Refused) != 1 || a.Refused[0].Line != 2 || len(p.lines) != 2 {
		t.Errorf("%+v, taken %q", a, p.lines)
	}
	if a := decode[wire.FeedAnswer](b, b.do("POST", "/api/feed", "flow 1 L/min")); a.Taken != 1 || a.Refused == nil {
		t.Errorf("%+v", a)
	}
	if w := b.do("POST", "/api/feed", "bad\nbad"); w.Code != http.StatusBadRequest || !strings.Contains(w.Body.String(), "line 1: it is bad") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	before := len(p.lines)
	if w := b.do("POST", "/api/feed", strings.Repeat("flow 1 L/min\n", 6000)); w.Code != http.StatusRequestEntityTooLarge {
		t.Errorf("status %d for 78 kB", w.Code)
	}
	if w := b.do("POST", "/api/feed", "flow 9 L/min", header(tokenHeader, "guessed")); w.Code != http.StatusForbidden {
		t.Errorf("status %d without the token", w.Code)
	}
	for _, l := range p.lines[before:] {
		if l == "flow 9 L/min" {
			t.Error("a line was taken without the token")
		}
	}
}

func TestPushWithoutAFeed(t *testing.T) {
	b := newBench(t, Config{})
	if w := b.do("POST", "/api/feed", "flow 1 L/min"); w.Code != http.StatusNotFound || !strings.Contains(w.Body.String(), "--feed push:") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	broken := newBench(t, Config{Feed: func(io.Reader) (int, []wire.FeedRefused, error) { return 0, nil, errors.New("the lines broke off") }})
	if w := broken.do("POST", "/api/feed", "x"); w.Code != http.StatusBadRequest {
		t.Errorf("status %d", w.Code)
	}
}
