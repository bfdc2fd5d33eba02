package server

import (
	"errors"
	"fmt"
	"net/http"
	"time"

	"soakline/collector/plan"
	"soakline/server/wire"
)

// planText is the name by which messages call a plan that came as text.
const planText = "plan"

// plans answers GET /api/plans: those that come with the program.
func (s *Server) plans(w http.ResponseWriter, _ *http.Request) error {
	out := struct {
		Plans []wire.PlanText `json:"plans"`
	}{[]wire.PlanText{}}
	for _, b := range plan.Builtins() {
		p, err := plan.Parse(b.Name, b.Text)
		if err != nil {
			return err
		}
		out.Plans = append(out.Plans, wire.PlanText{Name: b.Name, Title: p.Name, About: p.About, Text: string(b.Text)})
	}
	return writeJSON(w, out)
}

// checkPlan says what is wrong with a text, or what the plan would do.
func (s *Server) checkPlan(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Text string `json:"text"`
	}
	if err := readJSON(w, r, &in); err != nil {
		return err
	}
	c := wire.PlanCheck{Problems: []wire.PlanProblem{}, Phases: []wire.PlanPart{}, Setups: []string{}}
	p, err := plan.Parse(planText, []byte(in.Text))
	var wrong *plan.Problems
	switch {
	case errors.As(err, &wrong):
		for _, q := range wrong.List {
			c.Problems = append(c.Problems, wire.PlanProblem(q))
		}
		return writeJSON(w, c)
	case err != nil:
		return err
	}
	turns := p.Turns()
	c.Name, c.About, c.Runs = p.Name, p.About, len(turns)
	c.LongestS = (p.Length() * time.Duration(len(turns))).Seconds()
	for i := range p.Phases {
		c.Phases = append(c.Phases, wire.PlanPart{Kind: string(p.Phases[i].Kind), Title: p.Phases[i].Title(), Ends: p.Phases[i].Ends()})
	}
	for _, t := range turns {
		if t.Setup != nil {
			c.Setups = append(c.Setups, t.Setup.Name)
		}
	}
	return writeJSON(w, c)
}

// startPlan begins a plan from its text. A command of the user's is begun from the
// terminal alone: what a page sends never becomes a program that runs.
func (s *Server) startPlan(w http.ResponseWriter, r *http.Request) error {
	if s.config.StartPlan == nil {
		return &refusal{http.StatusNotFound, "no plan can be started here"}
	}
	var in struct {
		Text   string   `json:"text"`
		LimitC *float64 `json:"limit_c"`
	}
	if err := readJSON(w, r, &in); err != nil {
		return err
	}
	limit := s.limit()
	if in.LimitC != nil {
		if limit = *in.LimitC; !(limit >= lowestLimitC && limit <= highestLimitC) {
			return badRequest("limit_c=%g: expected %d to %d degC, or null", limit, lowestLimitC, highestLimitC)
		}
	}
	p, err := plan.Parse(planText, []byte(in.Text))
	if err != nil {
		return badRequest("%v", err)
	}
	if _, command := p.Loads(); command {
		return &refusal{http.StatusForbidden, fmt.Sprintf("plan %q runs a command of yours: start it in the terminal, with 'soakline plan run'", p.Name)}
	}
	if err := s.config.StartPlan(p, limit); err != nil {
		return &refusal{http.StatusConflict, err.Error()}
	}
	return writeJSON(w, struct {
		Name string `json:"name"`
	}{p.Name})
}
