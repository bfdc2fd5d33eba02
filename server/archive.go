package server

import (
	"context"
	"errors"
	"net/http"
	"regexp"
	"time"

	"github.com/go-chi/chi/v5"

	"soakline/analysis"
	"soakline/collector/archive"
	"soakline/collector/telemetry"
	"soakline/server/wire"
)

// Archive keeps sessions; *archive.Store is one.
type Archive interface {
	Sessions(ctx context.Context, f archive.Filter) ([]archive.Entry, error)
	Describe(ctx context.Context, id string) (archive.Description, error)
	Load(ctx context.Context, id string) (*telemetry.Trace, error)
	Rename(ctx context.Context, id, name string) error
	Pin(ctx context.Context, id string, pinned bool) error
	Delete(ctx context.Context, id string) error
	Restore(ctx context.Context, id string) (string, error)
}

// How long the archive may take for one answer, and how long a list may be.
const (
	shelfTimeout = 60 * time.Second
	maxListed    = 1000
	maxFind      = 200
)

// sessions are the routes of the archive.
func (s *Server) sessions(r chi.Router) {
	r.With(deadlines(traceTimeout)).Get("/api/sessions/{id}/trace.csv", s.answer(s.keptTrace))
	r.Group(func(r chi.Router) {
		r.Use(deadlines(shelfTimeout))
		r.Get("/api/sessions", s.answer(s.keptList))
		r.Get("/api/sessions/{id}/layout", s.answer(s.keptLayout))
		r.Get("/api/sessions/{id}/rows", s.answer(s.keptRows))
		r.Get("/api/sessions/{id}/history", s.answer(s.keptHistory))
		r.Get("/api/sessions/{id}/analysis", s.answer(s.keptAnalysis))
		r.Get("/api/compare", s.answer(s.compare))
		r.Group(func(r chi.Router) {
			r.Use(s.access.writer)
			r.Post("/api/sessions/{id}/name", s.answer(s.keptName))
			r.Post("/api/sessions/{id}/pin", s.answer(s.keptPin))
			r.Post("/api/sessions/{id}/restore", s.answer(s.keptRestore))
			r.Delete("/api/sessions/{id}", s.answer(s.keptDelete))
		})
	})
}

// sessionID is the form of session.NewID. Nothing else is passed on: the archive would
// take the beginning of an id, or a name, for it.
var sessionID = regexp.MustCompile(`^\d{8}-\d{6}-[a-z2-9]{3}$`)

// kept checks that there is an archive, and what the address names.
func (s *Server) kept(r *http.Request) (string, error) {
	if s.config.Archive == nil {
		return "", errNoArchive
	}
	id := chi.URLParam(r, "id")
	if !sessionID.MatchString(id) {
		return "", badRequest("%.40q is not the id of a session", id)
	}
	return id, nil
}

var errNoArchive = &refusal{http.StatusNotFound, "no session is kept by this program: it was started with --no-keep, or shows a file"}

// told turns what the archive says into what the viewer is told. Its sentences name
// nothing but the session and, where the disk is at fault, the file.
func told(err error) error {
	if err == nil || errors.Is(err, context.Canceled) {
		return err
	}
	status := http.StatusInternalServerError
	switch {
	case errors.Is(err, archive.ErrNotFound), errors.Is(err, archive.ErrAmbiguous):
		return &refusal{http.StatusNotFound, "there is no such session; it may be deleted"}
	case errors.Is(err, archive.ErrRecording):
		return &refusal{http.StatusConflict, "this session is being recorded now: wait for its end"}
	case errors.Is(err, archive.ErrPinned):
		return &refusal{http.StatusConflict, "this session is pinned: unpin it first"}
	case errors.Is(err, archive.ErrDamaged), errors.Is(err, archive.ErrNewer):
		status = http.StatusUnprocessableEntity
	case errors.Is(err, context.DeadlineExceeded):
		return &refusal{http.StatusServiceUnavailable, "this took too long: try again when the machine is less busy"}
	default:
		return err
	}
	return &refusal{status, err.Error()}
}

// keptList answers GET /api/sessions?find=TEXT&deleted=1.
func (s *Server) keptList(w http.ResponseWriter, r *http.Request) error {
	if s.config.Archive == nil {
		return errNoArchive
	}
	q := r.URL.Query()
	find := q.Get("find")
	if len(find) > maxFind {
		return badRequest("find is longer than %d bytes", maxFind)
	}
	if d := q.Get("deleted"); d != "" && d != "0" && d != "1" {
		return badRequest("deleted=%.20q: expected 0 or 1", d)
	}
	list, err := s.config.Archive.Sessions(r.Context(), archive.Filter{Text: find, Deleted: q.Get("deleted") == "1", Limit: maxListed + 1})
	if err != nil {
		return told(err)
	}
	out := wire.KeptList{Sessions: []wire.Kept{}, More: len(list) > maxListed}
	for _, e := range list[:min(len(list), maxListed)] {
		out.Sessions = append(out.Sessions, s.wireKept(e))
	}
	return writeJSON(w, out)
}

func (s *Server) wireKept(e archive.Entry) wire.Kept {
	k := wire.Kept{ID: e.ID, Name: e.Name, Stored: e.Stored, LengthS: e.Length.Seconds(), Channels: e.Channels, Rows: e.Rows,
		State: string(e.State), Why: e.Why, Origin: e.Origin, Host: e.Host, Simulated: e.Simulated, Pinned: e.Pinned,
		Setup: wireSetup(e.Setup), Scores: []wire.Score{}, Marks: e.Marks, Bytes: e.Bytes}
	if !e.Start.IsZero() {
		k.Start = &e.Start
	}
	if !e.Deleted.IsZero() {
		k.Deleted = &e.Deleted
	}
	for _, sc := range e.Scores {
		k.Scores = append(k.Scores, wireScore(sc))
	}
	_, over := s.config.Session.Ended()
	k.Shown = !over && e.ID == s.config.Session.Info().ID
	return k
}

// keptName answers POST /api/sessions/{id}/name {"name":""}.
func (s *Server) keptName(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Name *string `json:"name"`
	}
	return s.change(w, r, &in, func(ctx context.Context, id string) error {
		if in.Name == nil {
			return badRequest("name is missing")
		}
		return s.config.Archive.Rename(ctx, id, *in.Name)
	})
}

// keptPin answers POST /api/sessions/{id}/pin {"pinned":true}.
func (s *Server) keptPin(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Pinned *bool `json:"pinned"`
	}
	return s.change(w, r, &in, func(ctx context.Context, id string) error {
		if in.Pinned == nil {
			return badRequest("pinned is missing")
		}
		return s.config.Archive.Pin(ctx, id, *in.Pinned)
	})
}

// keptRestore answers POST /api/sessions/{id}/restore {}.
func (s *Server) keptRestore(w http.ResponseWriter, r *http.Request) error {
	return s.change(w, r, &struct{}{}, func(ctx context.Context, id string) error {
		_, err := s.config.Archive.Restore(ctx, id)
		return err
	})
}

// change reads the body, changes a session and answers with how it stands then.
func (s *Server) change(w http.ResponseWriter, r *http.Request, in any, do func(ctx context.Context, id string) error) error {
	id, err := s.kept(r)
	if err != nil {
		return err
	}
	if err := readJSON(w, r, in); err != nil {
		return err
	}
	if err := do(r.Context(), id); err != nil {
		return told(err)
	}
	d, err := s.config.Archive.Describe(r.Context(), id)
	if err != nil {
		return told(err)
	}
	return writeJSON(w, s.wireKept(d.Entry))
}

// keptDelete answers DELETE /api/sessions/{id}; restore takes it back.
func (s *Server) keptDelete(w http.ResponseWriter, r *http.Request) error {
	id, err := s.kept(r)
	if err != nil {
		return err
	}
	if err := s.config.Archive.Delete(r.Context(), id); err != nil {
		return told(err)
	}
	return writeJSON(w, struct {
		Deleted string `json:"deleted"`
	}{id})
}

// firstLoad is the load that sessions are laid over one another by: the first that is
// no mere blip, else the first; unknown where there is none.
func firstLoad(r analysis.Result) (start, end analysis.Number) {
	const blip = 10 // s
	for _, l := range r.Load {
		if l.EndS-l.StartS >= blip {
			return l.StartS, l.EndS
		}
	}
	if len(r.Load) > 0 {
		return r.Load[0].StartS, r.Load[0].EndS
	}
	return analysis.Unknown(), analysis.Unknown()
}
