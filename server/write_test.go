package server

import (
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"soakline/collector/telemetry"
	"soakline/server/wire"
)

// Each bad body, with the word that its refusal must hold.
func TestBadBodiesAreRefused(t *testing.T) {
	b := newBench(t, Config{Rig: &setups{selected: "fan"}})
	b.feed(1)
	b.session.SetSetting("paste", "old")
	for _, c := range []struct {
		method, path, body string
		status             int
		word               string
	}{
		{"POST", "/api/marks", ``, 400, "byte 0"},
		{"POST", "/api/marks", `{"text":`, 400, "byte"},
		{"POST", "/api/marks", `{"text":"x"} {}`, 400, "goes on"},
		{"POST", "/api/marks", `{"text":"x","at":1}`, 400, `"at"`},
		{"POST", "/api/marks", `{"text":5}`, 400, "text"},
		{"POST", "/api/marks", `{"at_s":-1,"text":"x"}`, 400, "before"},
		{"POST", "/api/marks", `{"at_s":1e999,"text":"x"}`, 400, "at_s"},
		{"POST", "/api/marks", `{"text":"` + strings.Repeat("x", 9000) + `"}`, 413, "8192"},
		{"PUT", "/api/marks/1", `{"text":"x"}`, 404, "no mark 1"},
		{"PUT", "/api/marks/x", `{"text":"x"}`, 400, "number"},
		{"PUT", "/api/marks/1", `{}`, 400, "text"},
		{"POST", "/api/setup", `{"key":"","value":"x"}`, 400, "key"},
		{"POST", "/api/scores", `{"name":"total","higher_is_better":true}`, 400, "value"},
		{"POST", "/api/scores", `{"value":1}`, 400, "higher_is_better"},
		{"POST", "/api/scores", `{"value":1,"higher_is_better":true,"at_s":-1}`, 400, "before"},
		{"POST", "/api/limit", `{"limit_c":5}`, 400, "20 to 150"},
		{"POST", "/api/limit", `{"limit_c":"90"}`, 400, "limit_c"},
		{"POST", "/api/rig", `{"setup":"rocket"}`, 400, "rocket"},
	} {
		t.Run(c.path+" "+c.body[:min(len(c.body), 30)], func(t *testing.T) {
			b.TB = t
			b.refused(b.do(c.method, c.path, c.body), c.status, c.word)
		})
	}
	b.TB = t
	form := header("Content-Type", "application/x-www-form-urlencoded")
	b.refused(b.do("POST", "/api/marks", `{"text":"x"}`, form), http.StatusUnsupportedMediaType, "application/json")
	if n := len(b.session.Marks()); n != 0 {
		t.Errorf("%d marks were made by bad bodies", n)
	}
	if b.limit() != 0 {
		t.Errorf("the limit became %v", b.limit())
	}
}

func TestNoRigNoSetups(t *testing.T) {
	b := newBench(t, Config{})
	b.refused(b.do("POST", "/api/rig", `{"setup":"fan"}`), http.StatusNotFound, "simulated")
}

func TestMarkAtATime(t *testing.T) {
	b := newBench(t, Config{})
	b.feed(30) // up to 2.9 s
	for body, want := range map[string]float64{
		`{"at_s":1.25,"text":"a"}`: 1.25, `{"at_s":null,"text":"b"}`: 2.9, `{"text":"c"}`: 2.9, `{"at_s":99,"text":"d"}`: 2.9,
	} {
		if m := decode[wire.Mark](b, b.do("POST", "/api/marks", body)); m.AtS != want {
			t.Errorf("%s lies at %v, want %v", body, m.AtS, want)
		}
	}
}

// Every page that looks on tells of the same alarm; the session keeps one mark of it.
func TestOneMarkOfOneInstantAndWords(t *testing.T) {
	b := newBench(t, Config{})
	b.feed(30)
	var all sync.WaitGroup
	ids := make([]int64, 20)
	for i := range ids {
		all.Go(func() {
			ids[i] = decode[wire.Mark](b, b.do("POST", "/api/marks", `{"at_s":1.3000000000000003,"text":"alarm: die over 90 °C"}`)).ID
		})
	}
	all.Wait()
	if n := len(b.session.Marks()); n != 1 || slices.Min(ids) != slices.Max(ids) {
		t.Errorf("20 pages made %d marks, ids %v", n, ids)
	}
	b.do("POST", "/api/marks", `{"at_s":1.4,"text":"alarm: die over 90 °C"}`)
	b.do("POST", "/api/marks", `{"at_s":1.3000000000000003,"text":"another"}`)
	if n := len(b.session.Marks()); n != 3 {
		t.Errorf("another instant, another word: %d marks, want 3", n)
	}
}

// The setup of the machine's last session is offered, and what differs from it is told.
func TestLastSetupAndScores(t *testing.T) {
	b := newBench(t, Config{Last: LastSession{ID: "before", Setup: []telemetry.Setting{{Key: "paste", Value: "old"}, {Key: "lid", Value: "open"}}}})
	b.feed(30)
	b.session.SetSetting("paste", "new")
	if sc := decode[wire.Score](b, b.do("POST", "/api/scores", `{"value":1510,"unit":"points","higher_is_better":true}`)); sc.Name != "score" || sc.AtS != 2.9 {
		t.Errorf("score %+v", sc)
	}
	l := decode[wire.Layout](b, b.do("GET", "/api/layout", ""))
	if len(l.Scores) != 1 || l.Scores[0].Value != 1510 || !l.Scores[0].HigherIsBetter {
		t.Errorf("scores %+v", l.Scores)
	}
	if l.LastSetup == nil || l.LastSetup.Session != "before" || !slices.Equal(l.LastSetup.Setup, []wire.Setting{{Key: "lid", Value: "open"}}) ||
		!slices.Contains(l.LastSetup.Changed, wire.Difference{Key: "paste", Before: "old", Now: "new"}) {
		t.Errorf("last setup %+v", l.LastSetup)
	}
}

func TestLimitCanBeTakenBack(t *testing.T) {
	b := newBench(t, Config{LimitC: 80})
	if w := b.do("POST", "/api/limit", `{"limit_c":null}`); w.Code != http.StatusOK {
		t.Fatalf("status %d %s", w.Code, w.Body)
	}
	if l := b.do("GET", "/api/layout", "").Body.String(); !strings.Contains(l, `"limit_c":null`) || strings.Contains(l, userLimit) {
		t.Errorf("the limit is still there: %s", l)
	}
}
