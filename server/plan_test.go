package server

import (
	"encoding/json"
	"errors"
	"net/http"
	"reflect"
	"strings"
	"testing"

	"soakline/collector/plan"
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

func TestPlanTexts(t *testing.T) {
	var started []string
	limit := 0.0
	b := newBench(t, Config{LimitC: 85, StartPlan: func(p *plan.Plan, limitC float64) error {
		if len(started) > 0 {
			return errors.New("a plan is about to begin")
		}
		started, limit = append(started, p.Name), limitC
		return nil
	}})
	const good = `plan: p\nphases:\n  - rest: {for: 1m}\n  - load: {for: 1m, own: vector}\n`
	var c wire.PlanCheck
	for _, k := range []struct {
		text     string
		problems []wire.PlanProblem
		phases   int
	}{
		{good, []wire.PlanProblem{}, 2},
		{`plan: p\nphases:\n  - nap: {for: 1m}\n`, []wire.PlanProblem{{Line: 3, Column: 5, Text: `"nap" is not known here; known are rest, load, cool, ask, repeat`}}, 0},
	} {
		w := b.do("POST", "/api/plan/check", `{"text":"`+k.text+`"}`)
		if err := json.Unmarshal(w.Body.Bytes(), &c); err != nil || !reflect.DeepEqual(c.Problems, k.problems) || len(c.Phases) != k.phases {
			t.Errorf("%s: %s", k.text, w.Body)
		}
	}
	b.refused(b.do("POST", "/api/plan/start", `{"text":"plan: p"}`), 400, "no phases")
	b.refused(b.do("POST", "/api/plan/start", `{"text":"`+good+`","limit_c":5}`), 400, "20 to 150")
	b.refused(b.do("POST", "/api/plan/start", `{"text":"plan: p\nphases:\n  - load: {for: 1m, command: [rm, x]}\n"}`), http.StatusForbidden, "terminal")
	if w := b.do("POST", "/api/plan/start", `{"text":"`+good+`"}`); w.Code != 200 || len(started) != 1 || limit != 85 {
		t.Errorf("%d %s, started %v with %g", w.Code, w.Body, started, limit)
	}
	b.refused(b.do("POST", "/api/plan/start", `{"text":"`+good+`","limit_c":70}`), http.StatusConflict, "about to begin")
	var all struct{ Plans []wire.PlanText }
	w := b.do("GET", "/api/plans", "")
	if err := json.Unmarshal(w.Body.Bytes(), &all); err != nil || len(all.Plans) != len(plan.Builtins()) || !strings.Contains(all.Plans[0].Text, "phases:") {
		t.Errorf("%v %s", err, w.Body)
	}
}

func TestNoPlan(t *testing.T) {
	b := newBench(t, Config{})
	b.refused(b.do("GET", "/api/plan", ""), http.StatusNotFound, "no plan")
	b.refused(b.do("POST", "/api/plan/start", `{"text":""}`), http.StatusNotFound, "no plan can be started")
	b.refused(b.do("POST", "/api/plan", `{"action":"stop"}`), http.StatusNotFound, "no plan")
}
