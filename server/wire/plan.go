package wire

import "soakline/analysis"

// Plan is how a running plan stands: the answer to GET /api/plan.
type Plan struct {
	Name  string `json:"name"`
	About string `json:"about"`
	// Runs are counted over the whole plan, from 1. Setup is "" where the plan has none.
	Run   int    `json:"run"`
	Runs  int    `json:"runs"`
	Setup string `json:"setup"`
	// Session is the recording of the present run; "" between two runs.
	Session string          `json:"session"`
	LimitC  analysis.Number `json:"limit_c"`
	// LimitFrom is "given", "plan" or "reported", the last being 5 K below what the machine reports.
	LimitFrom string `json:"limit_from"`
	LoadOn    bool   `json:"load_on"`
	Paused    bool   `json:"paused"`
	// Phases of the present run, in their order; Phase is the place of the present one.
	Phases []PlanPhase `json:"phases"`
	Phase  int         `json:"phase"`
	// LeftS is the time left to the end of the plan; AtMost says that conditions may end it earlier.
	LeftS   analysis.Number `json:"left_s"`
	AtMost  bool            `json:"at_most"`
	Waiting *PlanQuestion   `json:"waiting"`
	Alarms  []string        `json:"alarms"`
	Ended   string          `json:"ended"` // why the plan is over; "" while it runs
}

// PlanPhase is one phase of a run.
type PlanPhase struct {
	Kind  string `json:"kind"` // rest, load, cool or ask
	Title string `json:"title"`
	Ends  string `json:"ends"`
	// State is "ahead", "now", "done", "broken off" or "left out".
	State    string          `json:"state"`
	StartS   analysis.Number `json:"start_s"` // in the session's time
	EndS     analysis.Number `json:"end_s"`
	ElapsedS analysis.Number `json:"elapsed_s"` // pauses aside
	LeftS    analysis.Number `json:"left_s"`    // of the present phase
	AtMost   bool            `json:"at_most"`
	Why      string          `json:"why"` // it ended
}

// PlanQuestion is what the plan waits for.
type PlanQuestion struct {
	Text string `json:"text"`
	// Setting is the condition of the setup that the answer becomes; "" where it becomes a mark.
	Setting string `json:"setting"`
	// Setup is the setup that is to be put in, with its conditions; null for other questions.
	Setup    *string   `json:"setup"`
	Settings []Setting `json:"settings"`
}

// PlanText is a plan that comes with the program.
type PlanText struct {
	Name  string `json:"name"`
	Title string `json:"title"`
	About string `json:"about"`
	Text  string `json:"text"` // YAML
}

// PlanCheck is what a text is as a plan; with problems all else is empty.
type PlanCheck struct {
	Problems []PlanProblem `json:"problems"`
	Name     string        `json:"name"`
	About    string        `json:"about"`
	Runs     int           `json:"runs"`
	LongestS float64       `json:"longest_s"` // of all runs, questions aside
	Phases   []PlanPart    `json:"phases"`
	Setups   []string      `json:"setups"` // run by run; empty where the plan has none
}

// PlanProblem is a mistake and where it stands, counted from 1.
type PlanProblem struct {
	Line   int    `json:"line"`
	Column int    `json:"column"`
	Text   string `json:"text"`
}

// PlanPart is a phase of a plan that is not being run.
type PlanPart struct {
	Kind  string `json:"kind"`
	Title string `json:"title"`
	Ends  string `json:"ends"`
}
