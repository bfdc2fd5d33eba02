package server

import (
	"net/http"
	"strconv"

	"github.com/go-chi/chi/v5"

	"soakline/collector/telemetry"
	"soakline/server/wire"
)

// A user's limit lies within these, degC: below, every machine at rest would pass it;
// above, none would ever reach it.
const (
	lowestLimitC  = 20
	highestLimitC = 150
)

func (s *Server) addMark(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		AtS  *float64 `json:"at_s"`
		Text string   `json:"text"`
	}
	if err := readJSON(w, r, &in); err != nil {
		return err
	}
	at := -1.0 // now
	if in.AtS != nil {
		if at = *in.AtS; at < 0 {
			return badRequest("at_s=%g lies before the session's first sample", at)
		}
	}
	return writeJSON(w, wireMark(s.mark(telemetry.Mark{At: at, Kind: telemetry.MarkUser, Text: in.Text})))
}

// mark keeps one of several marks of the same instant and words: every page that looks
// on tells of an alarm, at the time of the row that raised it.
func (s *Server) mark(m telemetry.Mark) telemetry.Mark {
	s.marking.Lock()
	defer s.marking.Unlock()
	for _, had := range s.config.Session.Marks() {
		if had.At == m.At && had.Text == m.Text {
			return had
		}
	}
	return s.config.Session.Mark(m)
}

func (s *Server) editMark(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Text *string `json:"text"`
	}
	id, err := strconv.ParseInt(chi.URLParam(r, "id"), 10, 64)
	if err != nil {
		return badRequest("%q is not the number of a mark", chi.URLParam(r, "id"))
	}
	if err := readJSON(w, r, &in); err != nil {
		return err
	}
	if in.Text == nil {
		return badRequest("text is missing")
	}
	if err := s.config.Session.EditMark(id, *in.Text); err != nil {
		return &refusal{http.StatusNotFound, err.Error()}
	}
	for _, m := range s.config.Session.Marks() {
		if m.ID == id {
			return writeJSON(w, wireMark(m))
		}
	}
	return &refusal{http.StatusNotFound, "the mark is gone"}
}

// addScore notes what a run achieved.
func (s *Server) addScore(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Name           string   `json:"name"`
		Value          *float64 `json:"value"`
		Unit           string   `json:"unit"`
		HigherIsBetter *bool    `json:"higher_is_better"`
		AtS            *float64 `json:"at_s"`
	}
	if err := readJSON(w, r, &in); err != nil {
		return err
	}
	if in.Value == nil || in.HigherIsBetter == nil {
		return badRequest("value or higher_is_better is missing")
	}
	at := -1.0 // now
	if in.AtS != nil {
		if at = *in.AtS; at < 0 {
			return badRequest("at_s=%g lies before the session's first sample", at)
		}
	}
	sc, err := s.config.Session.AddScore(telemetry.Score{Name: in.Name, Value: *in.Value, Unit: in.Unit, HigherIsBetter: *in.HigherIsBetter, At: at})
	if err != nil {
		return badRequest("%v", err)
	}
	s.event(wire.Event{Kind: wire.EventLayout})
	return writeJSON(w, wireScore(sc))
}

func (s *Server) changeSetup(w http.ResponseWriter, r *http.Request) error {
	var in wire.Setting
	if err := readJSON(w, r, &in); err != nil {
		return err
	}
	if err := s.config.Session.SetSetting(in.Key, in.Value); err != nil {
		return badRequest("%v", err)
	}
	return writeJSON(w, wireSetup(s.config.Session.Setup()))
}

// changeLimit sets the temperature that the user will not exceed; null takes it back.
// It is soakline's own mark on the scale: nothing is written to the machine.
func (s *Server) changeLimit(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		LimitC *float64 `json:"limit_c"`
	}
	if err := readJSON(w, r, &in); err != nil {
		return err
	}
	limit := 0.0
	if in.LimitC != nil {
		if limit = *in.LimitC; !(limit >= lowestLimitC && limit <= highestLimitC) {
			return badRequest("limit_c=%g: expected %d to %d degC, or null", limit, lowestLimitC, highestLimitC)
		}
	}
	s.setLimit(limit)
	return writeJSON(w, in)
}

func (s *Server) selectRig(w http.ResponseWriter, r *http.Request) error {
	if s.config.Rig == nil {
		return &refusal{http.StatusNotFound, "a real machine is watched: there is no simulated one to change"}
	}
	var in struct {
		Setup string `json:"setup"`
	}
	if err := readJSON(w, r, &in); err != nil {
		return err
	}
	if err := s.config.Rig.Select(in.Setup); err != nil {
		return badRequest("%v", err)
	}
	s.event(wire.Event{Kind: wire.EventLayout})
	return writeJSON(w, s.wireRig())
}
