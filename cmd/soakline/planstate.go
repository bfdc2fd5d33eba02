package main

import (
	"fmt"
	"math"
	"time"

	"soakline/analysis"
	"soakline/collector/load"
	"soakline/collector/plan"
	"soakline/server/wire"
)

func (l failedLoad) ended() (string, bool, bool) { return l.why, true, true }
func (failedLoad) share(float64)                 {}
func (failedLoad) stop()                         {}
func (failedLoad) beat()                         {}
func (failedLoad) wrongs() ([]load.Wrong, int)   { return nil, 0 }
func (failedLoad) work() load.Count              { return load.Count{} }

// State says how the plan stands.
func (k *planner) State() wire.Plan {
	k.mu.Lock()
	defer k.mu.Unlock()
	turn := k.turns[min(k.turn, len(k.turns)-1)]
	w := wire.Plan{Name: k.plan.Name, About: k.plan.About, Run: turn.Number, Runs: len(k.turns), LimitC: analysis.Unknown(),
		LimitFrom: k.limitFrom, Waiting: k.question, Alarms: append([]string{}, k.alarms...), Ended: k.ended, Phases: []wire.PlanPhase{}}
	if turn.Setup != nil {
		w.Setup = turn.Setup.Name
	}
	if k.limitC > 0 {
		w.LimitC = analysis.Number(k.limitC)
	}
	if k.session != nil {
		w.Session = k.session.Info().ID
	}
	k.phases(&w)
	w.LeftS, w.AtMost = k.left()
	return w
}

// phases tells the phases of the present run.
func (k *planner) phases(w *wire.Plan) {
	none := analysis.Unknown()
	for i := range k.plan.Phases {
		p := &k.plan.Phases[i]
		w.Phases = append(w.Phases, wire.PlanPhase{Kind: string(p.Kind), Title: p.Title(), Ends: p.Ends(), State: "ahead",
			StartS: none, EndS: none, ElapsedS: none, LeftS: none})
	}
	if k.runner == nil {
		return
	}
	_, over := k.runner.Over()
	w.Phase, w.LoadOn, w.Paused = k.runner.Present(), k.runner.Loaded(), k.runner.Paused()
	for i := 0; i < w.Phase; i++ {
		w.Phases[i].State = "left out"
	}
	for _, s := range k.runner.Spans() {
		p := &w.Phases[s.Phase]
		p.StartS, p.EndS, p.Why = number(s.StartS), number(s.EndS), s.Why
		p.ElapsedS = number(s.EndS - s.StartS - s.PausedS)
		switch {
		case math.IsNaN(s.EndS):
			p.State = "now"
			left, most := k.runner.PhaseLeft()
			p.LeftS, p.AtMost, p.ElapsedS = number(left), most, number(k.runner.Elapsed())
		case s.Whole:
			p.State = "done"
		default:
			p.State = "broken off"
		}
	}
	if !over && k.asks() && w.Waiting == nil {
		p := k.plan.Phases[w.Phase]
		w.Waiting = &wire.PlanQuestion{Text: p.Text, Setting: p.Setting, Settings: []wire.Setting{}}
	}
}

// left is the time to the end of the plan.
func (k *planner) left() (analysis.Number, bool) {
	if k.ended != "" {
		return 0, false
	}
	whole, most := plan.NewRunner(k.plan.Phases, plan.Guard{}, k.earlier).Left()
	ahead := len(k.turns) - k.turn
	s := 0.0
	if k.runner != nil && ahead > 0 {
		now, nowMost := k.runner.Left()
		ahead--
		s, most = now, most && ahead > 0 || nowMost
	}
	return number(s + whole*float64(max(0, ahead))), most
}

// progress is the line in the terminal.
func progress(w wire.Plan, dieC float64) string {
	if w.Waiting != nil {
		return w.Waiting.Text
	}
	if w.Phase >= len(w.Phases) || w.Phases[w.Phase].State != "now" {
		return fmt.Sprintf("run %d of %d", w.Run, w.Runs)
	}
	p := w.Phases[w.Phase]
	text := fmt.Sprintf("run %d of %d, phase %d of %d: %s %s, %s left", w.Run, w.Runs, w.Phase+1, len(w.Phases), p.Kind,
		clockText(float64(p.ElapsedS)), leftText(float64(p.LeftS), p.AtMost))
	if w.Paused {
		text += ", PAUSED"
	}
	if !math.IsNaN(dieC) {
		text += fmt.Sprintf("; die %.0f °C", dieC)
		if w.LimitC.Known() {
			text += fmt.Sprintf(" of %g", float64(w.LimitC))
		}
	}
	return text + fmt.Sprintf("; plan: %s", leftText(float64(w.LeftS), w.AtMost))
}

func leftText(s float64, most bool) string {
	if most {
		return "at most " + clockText(s)
	}
	return clockText(s)
}

// clockText is a time as minutes and seconds, hours where there are any.
func clockText(s float64) string {
	d := time.Duration(math.Round(s)) * time.Second
	if d >= time.Hour {
		return fmt.Sprintf("%d:%02d:%02d", int(d.Hours()), int(d.Minutes())%60, int(d.Seconds())%60)
	}
	return fmt.Sprintf("%d:%02d", int(d.Minutes()), int(d.Seconds())%60)
}
