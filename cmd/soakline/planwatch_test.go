package main

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"soakline/collector/archive"
	"soakline/collector/plan"
	"soakline/server/wire"
	"soakline/web"
)

// asker talks to a running soakline as the page does.
type asker struct {
	t          *testing.T
	url, token string
}

func newAsker(t *testing.T, url string) *asker {
	a := &asker{t: t, url: strings.TrimSuffix(url, "/")}
	var l struct{ Token string }
	for end := time.Now().Add(20 * time.Second); a.ask("GET", "/api/layout", "", &l) != 200 && time.Now().Before(end); {
		time.Sleep(10 * time.Millisecond) // it is starting
	}
	a.token = l.Token
	return a
}

func (a *asker) ask(method, path, body string, into any) int {
	a.t.Helper()
	r, err := http.NewRequest(method, a.url+path, bytes.NewBufferString(body))
	if err != nil {
		a.t.Fatal(err)
	}
	r.Header.Set("X-Soakline-Token", a.token)
	r.Header.Set("Content-Type", "application/json")
	w, err := http.DefaultClient.Do(r)
	if err != nil {
		a.t.Fatal(err)
	}
	defer w.Body.Close()
	text, _ := io.ReadAll(w.Body)
	if w.StatusCode == 200 {
		if err := json.Unmarshal(text, into); err != nil {
			a.t.Fatalf("%s %s: %v\n%s", method, path, err, text)
		}
	}
	return w.StatusCode
}

// until asks for the plan until it is as wanted.
func (a *asker) until(want func(wire.Plan) bool) wire.Plan {
	a.t.Helper()
	var s wire.Plan
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		if a.ask("GET", "/api/plan", "", &s) == 200 && want(s) {
			return s
		}
	}
	a.t.Fatalf("the plan stands otherwise: %+v", s)
	return s
}

// A plan is begun, skipped on and stopped from the page while a machine is watched; the
// watch goes on afterwards, and what was measured stays.
func TestPlanFromThePage(t *testing.T) {
	if err := web.Check(); err != nil {
		need(t, err.Error())
	}
	p := start(t, "watch", "--rig", "plate-again", "--speed", "20", "--listen", "127.0.0.1:0")
	a := newAsker(t, p.URL)
	var named struct{ Name string }
	text := `{"limit_c":99,"text":"plan: page\nruns: 2\nphases:\n  - rest: {for: 20s}\n  - load: {for: 20h, own: vector, duty_pct: 30}\n  - cool: {for: 20h}\n"}`
	if status := a.ask("POST", "/api/plan/start", text, &named); status != 200 || named.Name != "page" {
		t.Fatalf("status %d, %q", status, named.Name)
	}
	s := a.until(func(s wire.Plan) bool { return s.LoadOn })
	if s.Run != 1 || s.Runs != 2 || float64(s.LimitC) != 99 || s.Phases[0].State != "done" || s.Ended != "" {
		t.Errorf("under load: %+v", s)
	}
	a = newAsker(t, p.URL) // the run's session has a token of its own
	a.ask("POST", "/api/plan", `{"action":"skip"}`, &s)
	a.until(func(s wire.Plan) bool { return s.Phase == 2 && !s.LoadOn && s.Phases[1].State == "broken off" })
	a.ask("POST", "/api/plan", `{"action":"stop"}`, &s)
	a.until(func(s wire.Plan) bool { return s.Ended == "stopped by the user" })
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		var l struct{ Session struct{ ID string } }
		if a.ask("GET", "/api/layout", "", &l) == 200 && l.Session.ID != s.Session {
			break
		}
	}
	p.Stop(t)
	tr := keptIn(t, os.Getenv("SOAKLINE_DATA"), s.Session)
	if m := plan.FromMarks(tr.Marks); len(m) != 3 || !m[0].Whole || m[1].Whole || m[2].Whole {
		t.Errorf("%+v", m)
	}
	if last := keptIn(t, os.Getenv("SOAKLINE_DATA"), archive.Last); len(plan.FromMarks(last.Marks)) != 0 {
		t.Error("the watch did not go on in a session of its own")
	}
}

// The keys in the terminal: p twice, n, an answer, q.
func TestKeysOfThePlan(t *testing.T) {
	archiveIn(t)
	b := newTable(t, "plan: k\nphases:\n  - rest: {for: 5s}\n  - ask: {text: Which paste?, setting: paste}\n  - rest: {for: 5s}\n", 0, false)
	screen := newTerminal(io.Discard)
	b.rows(time.Second, 50)
	for _, c := range []struct {
		key  string
		want func(wire.Plan) bool
	}{
		{"p", func(s wire.Plan) bool { return s.Paused }},
		{" p ", func(s wire.Plan) bool { return !s.Paused }},
		{"n", func(s wire.Plan) bool { return s.Waiting != nil }},
		{"p", func(s wire.Plan) bool { return s.Waiting == nil && s.Phase == 2 }}, // an answer, not a pause
		{"q", func(s wire.Plan) bool { return s.Phases[2].State == "broken off" }},
	} {
		if err := screen.key(b.planner, c.key); err != nil {
			t.Error(c.key, err)
		}
		b.rows(time.Second, 50)
		if s := b.State(); !c.want(s) {
			t.Errorf("after %q: %+v", c.key, s)
		}
	}
	if err := screen.key(b.planner, "x"); err == nil || !strings.Contains(err.Error(), "p pauses") {
		t.Error(err)
	}
	if setup := b.s.Setup(); len(setup) != 1 || setup[0].Value != "p" {
		t.Errorf("%v", setup)
	}
}
