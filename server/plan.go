package server

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"soakline/collector/plan"
	"soakline/server/wire"
)

// PlanControl is a plan that is being run. It may be asked by any goroutine.
type PlanControl interface {
	State() wire.Plan
	// Do pauses, goes on, skips the present phase, stops the plan or answers its question;
	// text belongs to the answer. It refuses what does not fit the moment.
	Do(action PlanAction, text string) error
}

// PlanAction is what can be done to a running plan.
type PlanAction string

// The actions.
const (
	PlanPause  PlanAction = "pause"
	PlanGoOn   PlanAction = "go on"
	PlanSkip   PlanAction = "skip"
	PlanStop   PlanAction = "stop"
	PlanAnswer PlanAction = "answer"
)

// PlanStart begins a plan; limitC is 0 where the page names no limit. It refuses where a
// plan cannot be begun now.
type PlanStart func(p *plan.Plan, limitC float64) error

// planRoutes are those of plans: what comes with the program, whether a text is a plan,
// beginning one, and the one that is being run.
func (s *Server) planRoutes(r chi.Router) {
	r.Get("/api/plans", s.answer(s.plans))
	r.With(s.access.writer).Post("/api/plan/check", s.answer(s.checkPlan))
	r.With(s.access.writer).Post("/api/plan/start", s.answer(s.startPlan))
	r.Get("/api/plan", s.answer(s.planState))
	r.With(s.access.writer).Post("/api/plan", s.answer(s.planAction))
}

var noPlan = &refusal{http.StatusNotFound, "no plan is being run"}

func (s *Server) planState(w http.ResponseWriter, _ *http.Request) error {
	if s.config.Plan == nil {
		return noPlan
	}
	return writeJSON(w, s.config.Plan.State())
}

func (s *Server) planAction(w http.ResponseWriter, r *http.Request) error {
	if s.config.Plan == nil {
		return noPlan
	}
	var in struct {
		Action PlanAction `json:"action"`
		Text   string     `json:"text"`
	}
	if err := readJSON(w, r, &in); err != nil {
		return err
	}
	switch in.Action {
	case PlanPause, PlanGoOn, PlanSkip, PlanStop, PlanAnswer:
	default:
		return badRequest("action %q: expected pause, go on, skip, stop or answer", in.Action)
	}
	if err := s.config.Plan.Do(in.Action, in.Text); err != nil {
		return &refusal{http.StatusConflict, err.Error()}
	}
	return writeJSON(w, s.config.Plan.State())
}
