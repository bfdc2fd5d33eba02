package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"

	"soakline/analysis"
	"soakline/collector/plan"
	"soakline/collector/session"
	"soakline/collector/telemetry"
	"soakline/server"
	"soakline/server/wire"
)

// belowReportedK is how far below the limit that the machine reports a load is ended where
// the user names no limit, K.
const belowReportedK = 5

// limitWaitS is how long a run waits for the first die temperature and reported limit, s.
const limitWaitS = 3

// planner carries a plan out: run by run it is told every row, by the sampler's own
// goroutine, and does what the plan's runner wants done. The terminal and the page ask it
// and command it.
type planner struct {
	plan  *plan.Plan
	turns []plan.Turn
	begin func(*plan.Work) (planLoad, error) // a load
	tell  func(text string, alarm bool)      // in the terminal
	count *counter

	mu        sync.Mutex
	turn      int // index
	limitC    float64
	limitFrom string
	runner    *plan.Runner // nil before the first row of a run
	waited    float64
	earlier   []plan.Span
	session   *session.Session
	chs       []telemetry.Channel
	die, ref  int // columns; -1 where there is none
	report    int
	load      planLoad
	over      context.CancelFunc // of the run's sampling
	question  *wire.PlanQuestion // between runs
	answers   chan string
	alarms    []string
	quit      bool // no further run
	ended     string
}

var _ server.PlanControl = (*planner)(nil)

// newPlanner makes a planner of the turns from number from on.
func newPlanner(p *plan.Plan, from int, limitC float64) *planner {
	k := &planner{plan: p, turns: p.Turns(), turn: from - 1, limitC: limitC, limitFrom: "given", answers: make(chan string, 1), count: &counter{}}
	if limitC == 0 {
		k.limitC, k.limitFrom = p.LimitC, "plan"
	}
	if k.limitC == 0 {
		k.limitFrom = ""
	}
	return k
}

// planSink passes the rows of a session on to the planner.
type planSink struct {
	*session.Session
	planner *planner
}

// Publish stores the row, then lets the plan look at it.
func (s planSink) Publish(row telemetry.Row) {
	s.Session.Publish(row)
	s.planner.row(row)
}

// enter begins the run of the present turn in s; over ends its sampling.
func (k *planner) enter(s *session.Session, over context.CancelFunc) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.session, k.over, k.runner, k.waited, k.chs = s, over, nil, 0, nil
	t := k.turns[k.turn]
	text := fmt.Sprintf("plan %s: run %d of %d begins", k.plan.Name, t.Number, len(k.turns))
	if t.Setup != nil {
		text += ", setup " + t.Setup.Name
	}
	k.mark(telemetry.MarkCommand, text)
}

// leave closes the run after its last row, whatever ended it.
func (k *planner) leave() (why string, goOn bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.endLoad()
	why, whole := "the recording ended", false
	if k.runner != nil {
		if k.earlier == nil || !k.runner.Tripped() {
			k.earlier = k.runner.Spans()
		}
		if text, over := k.runner.Over(); over {
			why, whole = text, !k.runner.Tripped()
		}
	}
	if !whole {
		k.quit = true
	}
	k.runner = nil
	k.turn++
	return why, !k.quit && k.turn < len(k.turns)
}

// row is one tick of the run.
func (k *planner) row(row telemetry.Row) {
	k.mu.Lock()
	defer k.mu.Unlock()
	at := k.read(row)
	if k.runner == nil && !k.ready(row, at) {
		return
	}
	if k.load != nil {
		at.Done = float64(k.load.work().Done)
		at.Ended, at.Failed, _ = k.load.ended()
		k.tellWrong()
	}
	for _, d := range k.runner.Step(at) {
		k.do(d)
	}
	if k.load != nil && k.runner.Loaded() {
		k.load.beat()
	}
}

// read picks what the plan looks at out of a row.
func (k *planner) read(row telemetry.Row) plan.Row {
	if len(k.chs) != len(row.Values) {
		chs, _ := k.session.Channels()
		k.chs = chs[:min(len(chs), len(row.Values))]
		k.die, k.ref = telemetry.IndexOf(k.chs, telemetry.RoleDie), telemetry.IndexOf(k.chs, telemetry.RoleAmbient)
		k.report = telemetry.IndexOf(k.chs, telemetry.RoleThermalLimit)
	}
	return plan.Row{At: row.At, DieC: value(row, k.die), CoolantC: value(row, k.ref)}
}

// value is a column's value, NaN in a gap or where there is no column.
func value(row telemetry.Row, c int) float64 {
	if c < 0 || !row.States[c].Usable() {
		return math.NaN()
	}
	return row.Values[c]
}

// ready begins the run once the die and the limit are known; a run whose load needs them
// and does not get them ends.
func (k *planner) ready(row telemetry.Row, at plan.Row) bool {
	own, command := k.plan.Loads()
	if k.limitC == 0 {
		if v := value(row, k.report); v > 20 && v <= 150 {
			k.limitC, k.limitFrom = v-belowReportedK, "reported"
			k.tell(fmt.Sprintf("no limit was named: a load ends above %g °C, %d K below the %g °C that the machine reports; --limit-c sets another", k.limitC, belowReportedK, v), false)
		}
	}
	limited := k.limitC > 0
	if waiting := row.At-k.waited < limitWaitS; waiting && (own || command) && (math.IsNaN(at.DieC) || !limited) && !k.quit {
		return false
	}
	if own && !limited {
		k.refuse("the machine reports no thermal limit: name the die temperature that you will not exceed with --limit-c")
		return false
	}
	k.runner = plan.NewRunner(k.plan.Phases, plan.Guard{LimitC: k.limitC, NeedDie: own || limited}, k.earlier)
	if k.quit { // stopped before the first row
		k.runner.Stop()
	}
	return true
}

// refuse ends the plan before a load began.
func (k *planner) refuse(why string) {
	k.quit, k.ended = true, why
	k.alarm("ALARM: the plan cannot go on: " + why)
	k.over()
}

// do does one deed of the runner's.
func (k *planner) do(d plan.Deed) {
	switch d.Do {
	case plan.Start:
		load, err := k.begin(d.Work)
		if err != nil {
			load = failedLoad{err.Error()}
		}
		k.load = load
		if own, ok := load.(ownLoad); ok {
			k.count.set(own.Process)
		}
	case plan.Adjust:
		k.load.share(d.Work.DutyPct)
	case plan.End:
		k.score(d.Phase)
		k.endLoad()
	case plan.Note:
		k.mark(telemetry.MarkCommand, d.Text)
		k.tell(d.Text, false)
	case plan.Alarm:
		k.alarm(d.Text)
	case plan.Question:
		k.tell(d.Text+" (answer, then Enter)", false)
	case plan.Finish:
		k.over()
	}
}

func (k *planner) endLoad() {
	if k.load != nil {
		k.load.stop()
		k.tellWrong()
		k.load = nil
		k.count.set(nil)
	}
}

// score notes the throughput of a load of soakline's own that came to its end: units over
// the load's own time. Steps and pauses leave none, being no steady load.
func (k *planner) score(phase int) {
	w := k.load.work()
	spans := k.runner.Spans()
	s := spans[len(spans)-1]
	for i := len(spans) - 1; i > 0 && s.Phase != phase; i-- {
		s = spans[i-1]
	}
	p := &k.plan.Phases[phase]
	if w.Done == 0 || w.At == 0 || s.Phase != phase || !s.Whole || s.PausedS > 0 || p.Step > 0 {
		return
	}
	digits := strconv.FormatFloat(float64(w.Done)/w.At.Seconds(), 'g', 5, 64) // more than runs repeat by
	rate, _ := strconv.ParseFloat(digits, 64)
	if _, err := k.session.AddScore(telemetry.Score{Name: "own load, " + p.Work.Own, Value: rate, Unit: "units/s", HigherIsBetter: true, At: s.EndS}); err != nil {
		k.tell("the throughput is not kept as a score: "+err.Error(), false)
	}
}

func (k *planner) alarm(text string) {
	k.alarms = append(k.alarms, text)
	k.mark(telemetry.MarkMachine, text)
	k.tell(text, true)
}

func (k *planner) tellWrong() {
	since, total := k.load.wrongs()
	for _, w := range since {
		k.alarm(wrongText(w, total))
	}
}

func (k *planner) mark(kind telemetry.MarkKind, text string) {
	k.session.Mark(telemetry.Mark{At: math.NaN(), Kind: kind, Text: text})
}

// failedLoad is a load that did not start.
type failedLoad struct{ why string }

// Do takes a command of the user's. What it asks for is done with the next row.
func (k *planner) Do(action server.PlanAction, text string) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	switch {
	case k.ended != "":
		return errors.New("the plan is over")
	case action == server.PlanStop:
		k.quit = true
	case k.question != nil && action == server.PlanAnswer:
		k.question = nil
		k.answers <- text
		return nil
	case k.question != nil:
		return errors.New("the plan waits for an answer")
	}
	switch r := k.runner; {
	case action == server.PlanStop && k.question != nil:
		k.question = nil
		close(k.answers)
		return nil
	case r == nil && action == server.PlanStop:
		return nil
	case r == nil:
		return errors.New("the run is about to begin; try again in a moment")
	case action == server.PlanStop:
		if k.load != nil { // not only with the next row
			k.load.stop()
		}
		return r.Stop()
	case action == server.PlanPause:
		return r.Pause(true)
	case action == server.PlanGoOn:
		return r.Pause(false)
	case action == server.PlanSkip:
		return r.Skip()
	default:
		return k.answer(text)
	}
}

// answer takes the answer to a question of the plan's own.
func (k *planner) answer(text string) error {
	p := k.plan.Phases[k.runner.Present()]
	if err := k.runner.Answer(); err != nil {
		return err
	}
	if text = session.Clean(text, 300); text == "" {
		return nil
	}
	if p.Setting != "" {
		if err := k.session.SetSetting(p.Setting, text); err != nil {
			return err
		}
	}
	k.mark(telemetry.MarkUser, "answered: "+text)
	return nil
}

// ask puts a question between two runs and waits for the answer; ok is false where the
// plan is stopped instead.
func (k *planner) ask(ctx context.Context, q wire.PlanQuestion) (answer string, ok bool) {
	k.mu.Lock()
	if k.quit {
		k.mu.Unlock()
		return "", false
	}
	k.question = &q
	k.mu.Unlock()
	select {
	case answer, ok = <-k.answers:
		return strings.TrimSpace(answer), ok
	case <-ctx.Done():
		return "", false
	}
}

// waiting is true while a question stands.
func (k *planner) waiting() bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.question != nil || k.asks()
}

func (k *planner) asks() bool {
	if k.runner == nil {
		return false
	}
	_, over := k.runner.Over()
	return !over && k.plan.Phases[k.runner.Present()].Kind == plan.Ask
}

// end closes the plan for good.
func (k *planner) end(why string) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.ended == "" {
		k.ended = why
	}
	k.question = nil
}

// number is a value for the wire, null where it is NaN.
func number(v float64) analysis.Number { return analysis.Number(v) }
