package server

import (
	"encoding/json"
	"errors"
	"net/http"
	"testing"

	"soakline/server/wire"
)

// planned is a plan that keeps what it was told.
type planned struct{ did []string }

func (p *planned) State() wire.Plan {
	return wire.Plan{Name: "plate", Phases: []wire.PlanPhase{}, Alarms: []string{}, Paused: len(p.did) > 0}
}

func (p *planned) Do(a PlanAction, text string) error {
	if a == PlanAnswer && text == "" {
		return errors.New("the plan asks nothing now")
	}
	p.did = append(p.did, string(a)+text)
	return nil
}

func TestPlan(t *testing.T) {
	p := &planned{}
	b := newBench(t, Config{Plan: p})
	for _, c := range []struct {
		body   string
		status int
		word   string
	}{
		{`{"action":"explode"}`, 400, "expected pause"},
		{`{"action":"skip","now":true}`, 400, "now"},
		{`{"action":"answer"}`, http.StatusConflict, "asks nothing"},
	} {
		b.refused(b.do("POST", "/api/plan", c.body), c.status, c.word)
	}
	if len(p.did) != 0 {
		t.Errorf("refused and yet done: %v", p.did)
	}
	for _, body := range []string{`{"action":"pause"}`, `{"action":"go on"}`, `{"action":"answer","text":"thin"}`} {
		w := b.do("POST", "/api/plan", body)
		var s wire.Plan
		if err := json.Unmarshal(w.Body.Bytes(), &s); w.Code != 200 || err != nil || !s.Paused {
			t.Errorf("%s: %d %s", body, w.Code, w.Body)
		}
	}
	if len(p.did) != 3 || p.did[2] != "answerthin" {
		t.Errorf("did %v", p.did)
	}
	if w := b.do("GET", "/api/plan", ""); w.Code != 200 {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}

func TestNoPlan(t *testing.T) {
	b := newBench(t, Config{})
	b.refused(b.do("GET", "/api/plan", ""), http.StatusNotFound, "no plan")
	b.refused(b.do("POST", "/api/plan", `{"action":"stop"}`), http.StatusNotFound, "no plan")
}
