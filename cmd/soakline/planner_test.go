package main

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"soakline/collector/load"
	"soakline/collector/plan"
	"soakline/collector/quantity"
	"soakline/collector/session"
	"soakline/collector/telemetry"
	"soakline/server"
	"soakline/server/wire"
)

// heavy is a load of a test's.
type heavy struct {
	on, beats, stops int
	pct              float64
	wrong            []load.Wrong
	why              string
	fault            bool
	count            load.Count
}

func (h *heavy) share(pct float64)           { h.pct = pct }
func (h *heavy) stop()                       { h.on = 0; h.stops++ }
func (h *heavy) beat()                       { h.beats++ }
func (h *heavy) ended() (string, bool, bool) { return h.why, h.fault, h.why != "" }
func (h *heavy) work() load.Count            { return h.count }
func (h *heavy) wrongs() (w []load.Wrong, n int) {
	w, h.wrong = h.wrong, nil
	return w, len(w)
}

// table is a planner with a session whose rows a test writes, 20 a second.
type table struct {
	*planner
	t       *testing.T
	s       *session.Session
	sink    planSink
	load    heavy
	over    bool
	told    []string
	seq     uint64
	columns []telemetry.Channel
}

const twoPhases = "plan: two\nphases:\n  - rest: {for: 1s}\n  - load: {for: 10s, own: vector}\n  - cool: {for: 1s}\n"

func newTable(t *testing.T, text string, limitC float64, reported bool) *table {
	t.Helper()
	p, err := plan.Parse("test", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	b := &table{planner: newPlanner(p, 1, limitC), t: t}
	b.columns = []telemetry.Channel{
		{Key: "d", Name: "die", Quantity: quantity.Temperature, Role: telemetry.RoleDie},
		{Key: "a", Name: "room", Quantity: quantity.Temperature, Role: telemetry.RoleAmbient}}
	if reported {
		b.columns = append(b.columns, telemetry.Channel{Key: "l", Name: "limit", Quantity: quantity.Temperature, Role: telemetry.RoleThermalLimit})
	}
	b.begin = func(w *plan.Work) (planLoad, error) {
		b.load.on, b.load.pct = 1, w.DutyPct
		return &b.load, nil
	}
	b.tell = func(text string, alarm bool) { b.told = append(b.told, text) }
	b.s = session.New(session.Info{ID: "x", Period: 50 * time.Millisecond}, b.columns, nil)
	b.sink = planSink{b.s, b.planner}
	b.enter(b.s, func() { b.over = true })
	return b
}

// rows publishes rows with this die temperature for a time.
func (b *table) rows(d time.Duration, die float64) {
	for range d / (50 * time.Millisecond) {
		if b.over {
			return
		}
		b.seq++
		row := telemetry.Row{Seq: b.seq, At: float64(b.seq-1) / 20, Values: []float64{die, 22, 100}[:len(b.columns)],
			States: []telemetry.State{telemetry.Fresh, telemetry.Fresh, telemetry.Fresh}[:len(b.columns)]}
		if math.IsNaN(die) {
			row.States[0] = telemetry.GapIO
		}
		b.sink.Publish(row)
	}
}

func (b *table) marks() string {
	var all []string
	for _, m := range b.s.Marks() {
		all = append(all, m.Text)
	}
	return strings.Join(all, "\n")
}

func (b *table) expect(part string) {
	b.t.Helper()
	if !strings.Contains(b.marks(), part) {
		b.t.Errorf("no mark says %q:\n%s", part, b.marks())
	}
}

func TestLimitFromTheMachine(t *testing.T) {
	b := newTable(t, twoPhases, 0, true)
	b.rows(3*time.Second, 60)
	if s := b.State(); float64(s.LimitC) != 95 || s.LimitFrom != "reported" || !s.LoadOn || b.load.on != 1 || b.load.beats < 10 {
		t.Errorf("%+v, load %+v", s, b.load)
	}
	if !strings.Contains(strings.Join(b.told, "\n"), "no limit was named") {
		t.Error("the limit is not told")
	}
	b.rows(50*time.Millisecond, 95.5) // the row that shows it ends the load
	if b.load.on != 0 || b.load.stops != 1 {
		t.Error("the load goes on above the limit")
	}
	b.expect("ALARM: the die is at 95.5 °C, above the limit of 95 °C; the load is off")
}

func TestNoLimitNoLoad(t *testing.T) {
	b := newTable(t, twoPhases, 0, false)
	b.rows(time.Minute, 60)
	if why, goOn := b.leave(); !b.over || goOn || b.load.stops != 0 || b.ended == "" {
		t.Errorf("%q, %v, %+v", why, goOn, b.load)
	}
	b.expect("--limit-c")
	rest := newTable(t, "plan: r\nphases:\n  - rest: {for: 1s}\n", 0, false)
	rest.rows(2*time.Second, math.NaN())
	if why, _ := rest.leave(); why != "the run is complete" {
		t.Errorf("a plan without a load needs no limit: %s", why)
	}
}

func TestALostDieEndsTheLoad(t *testing.T) {
	b := newTable(t, twoPhases, 90, false)
	b.rows(3*time.Second, 60)
	b.rows(50*time.Millisecond, math.NaN())
	if b.load.on != 1 {
		t.Error("one missing reading of 50 ms ended the load")
	}
	b.rows(50*time.Millisecond, math.NaN())
	if b.load.on != 0 {
		t.Error("the load goes on 0.1 s after the last die temperature")
	}
	b.expect("the die temperature is lost")
}

func TestWrongResultsBecomeMarks(t *testing.T) {
	b := newTable(t, twoPhases, 90, false)
	b.rows(2*time.Second, 60)
	b.load.wrong = []load.Wrong{{Worker: 1, CPU: 3, Kind: "vector", At: 1500 * time.Millisecond, Units: 2}, {Worker: 0, CPU: -1, Kind: "integer", At: time.Second, Units: 1}}
	b.rows(50*time.Millisecond, 60)
	b.expect("ALARM: wrong result of the vector load on processor 3, 1.50 s after its start")
	b.expect("on worker 0, not held to a processor")
	if b.load.on != 1 || len(b.State().Alarms) != 2 {
		t.Errorf("%+v", b.State())
	}
}

func TestABrokenLoadIsAnAlarm(t *testing.T) {
	b := newTable(t, twoPhases, 90, false)
	b.rows(2*time.Second, 60)
	b.load.why, b.load.fault = "the load broke down (signal: segmentation fault)", true
	b.rows(2*time.Second, 60)
	b.expect("ALARM: the load broke down (signal: segmentation fault); the load is off")
	if why, goOn := b.leave(); goOn || !strings.HasPrefix(why, "ended early") {
		t.Errorf("%s, goes on: %v", why, goOn)
	}
	c := newTable(t, twoPhases, 90, false)
	c.begin = func(*plan.Work) (planLoad, error) { return nil, context.DeadlineExceeded }
	c.rows(3*time.Second, 60)
	c.expect("ALARM: " + context.DeadlineExceeded.Error())
}

func TestCommandsOfTheUser(t *testing.T) {
	b := newTable(t, "plan: q\nphases:\n  - rest: {for: 5s}\n  - load: {for: 10s, own: vector}\n  - ask: {text: Which paste?, setting: paste}\n  - cool: {for: 5s}\n", 90, false)
	if err := b.Do(server.PlanSkip, ""); err == nil {
		t.Error("a skip before the first row")
	}
	b.rows(time.Second, 50)
	must := func(a server.PlanAction, text string) {
		t.Helper()
		if err := b.Do(a, text); err != nil {
			t.Error(a, err)
		}
	}
	must(server.PlanPause, "")
	b.rows(7*time.Second, 50)
	if s := b.State(); !s.Paused || s.Phase != 0 || math.Abs(float64(s.Phases[0].LeftS)-4) > 0.1 {
		t.Errorf("paused: %+v", s)
	}
	must(server.PlanGoOn, "")
	must(server.PlanSkip, "")
	b.rows(time.Second, 50)
	if s := b.State(); !s.LoadOn || s.Phases[0].State != "broken off" || s.Phases[1].State != "now" || s.Phases[2].State != "ahead" {
		t.Errorf("skipped: %+v", s)
	}
	must(server.PlanSkip, "")
	b.rows(time.Second, 50)
	if s := b.State(); s.Waiting == nil || s.Waiting.Text != "Which paste?" || s.LoadOn || b.load.on != 0 {
		t.Errorf("a question: %+v", s)
	}
	if b.Do(server.PlanPause, "") == nil {
		t.Error("a question was paused")
	}
	must(server.PlanAnswer, "thin layer")
	b.rows(time.Second, 50)
	if s := b.s.Setup(); len(s) != 1 || s[0] != (telemetry.Setting{Key: "paste", Value: "thin layer"}) {
		t.Errorf("setup %v", s)
	}
	if b.Do(server.PlanAnswer, "again") == nil {
		t.Error("an answer that nobody asked for")
	}
	must(server.PlanStop, "")
	b.rows(time.Second, 50)
	if why, goOn := b.leave(); why != "stopped by the user" || goOn || !b.over {
		t.Error(why, goOn)
	}
	if m := plan.FromMarks(b.s.Marks()); len(m) != 4 || m[3].Whole || m[3].EndS == 0 {
		t.Errorf("%+v", m)
	}
	b.end("stopped by the user")
	if b.Do(server.PlanStop, "") == nil || b.State().Ended == "" {
		t.Error("a plan that is over takes commands")
	}
}

func TestStoppedBeforeTheFirstRow(t *testing.T) {
	b := newTable(t, twoPhases, 90, false)
	if err := b.Do(server.PlanStop, ""); err != nil {
		t.Error(err)
	}
	b.rows(time.Second, 50)
	if why, goOn := b.leave(); why != "stopped by the user" || goOn {
		t.Error(why, goOn)
	}
}

func TestQuestionBetweenRuns(t *testing.T) {
	b := newTable(t, twoPhases, 90, false)
	got := make(chan string)
	ask := func() {
		go func() {
			answer, ok := b.ask(context.Background(), wire.PlanQuestion{Text: "Put it in"})
			if !ok {
				answer = "stopped"
			}
			got <- answer
		}()
		for !b.waiting() {
			time.Sleep(time.Millisecond)
		}
	}
	ask()
	if b.Do(server.PlanSkip, "") == nil {
		t.Error("a question between runs was skipped")
	}
	b.Do(server.PlanAnswer, " paste = new ")
	if a := <-got; a != "paste = new" {
		t.Errorf("answer %q", a)
	}
	ask()
	b.Do(server.PlanStop, "")
	if a := <-got; a != "stopped" {
		t.Errorf("answer %q", a)
	}
	for text, want := range map[string]int{"": 0, "paste = new, fan=2": 2, "moved the fan": 1} {
		if c := changes(text); len(c) != want {
			t.Errorf("%q gives %v", text, c)
		}
	}
}

// A load of soakline's own that came to its end leaves its throughput as a score: units
// over the load's own time. One that was broken off leaves none.
func TestTheLoadLeavesAScore(t *testing.T) {
	for _, skip := range []bool{false, true} {
		b := newTable(t, twoPhases, 90, false)
		b.load.count = load.Count{Done: 90_000, At: 9900 * time.Millisecond}
		b.rows(5*time.Second, 60)
		if skip {
			b.Do(server.PlanSkip, "")
		}
		b.rows(8*time.Second, 60)
		got := b.s.Scores()
		if skip != (len(got) == 0) {
			t.Fatalf("skipped %v: %v", skip, got)
		}
		if !skip && (math.Abs(got[0].Value-9090.9) > 1e-6 || got[0].Unit != "units/s" || !got[0].HigherIsBetter || got[0].At < 10.9 || got[0].At > 11.1) {
			t.Errorf("%+v", got)
		}
	}
}

func TestProgressLine(t *testing.T) {
	b := newTable(t, twoPhases, 90, false)
	b.rows(2*time.Second, 60)
	got := progress(b.State(), 60)
	if want := "run 1 of 1, phase 2 of 3: load 0:01, 0:09 left; die 60 °C of 90; plan: 0:10"; got != want {
		t.Errorf("%q, want\n%q", got, want)
	}
	if clockText(3725) != "1:02:05" {
		t.Error(clockText(3725))
	}
}
