package server

import (
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"
)

// routes lays out what is answered. The stream stands outside the group with deadlines:
// they would end it.
func (s *Server) routes(page *assets) http.Handler {
	r := chi.NewRouter()
	r.Use(secured, s.access.host, s.access.origin)
	r.NotFound(func(w http.ResponseWriter, r *http.Request) {
		refuse(w, http.StatusNotFound, "there is nothing here")
	})
	r.MethodNotAllowed(func(w http.ResponseWriter, r *http.Request) {
		refuse(w, http.StatusMethodNotAllowed, "this address does not take "+r.Method)
	})

	r.Get("/api/stream", s.answer(s.stream))
	r.With(deadlines(traceTimeout)).Get("/api/trace.csv", s.answer(s.trace))
	r.Group(s.sessions)
	r.Group(func(r chi.Router) {
		r.Use(deadlines(writeTimeout))
		r.Get("/healthz", s.answer(s.health))
		r.Get("/metrics", s.answer(s.metrics))
		r.Get("/api/layout", s.answer(s.layout))
		r.Get("/api/rows", s.answer(s.rows))
		r.Get("/api/history", s.answer(s.history))
		r.Get("/api/analysis", s.answer(s.analysis))
		s.planRoutes(r)
		r.Group(s.changes)
		r.Get("/", page.index)
		r.Head("/", page.index)
		r.Get("/{file}", page.file)
		r.Head("/{file}", page.file)
	})
	return r
}

// changes are the routes that change something.
func (s *Server) changes(r chi.Router) {
	r.Use(s.access.writer)
	r.Post("/api/marks", s.answer(s.addMark))
	r.Put("/api/marks/{id}", s.answer(s.editMark))
	r.Post("/api/setup", s.answer(s.changeSetup))
	r.Post("/api/scores", s.answer(s.addScore))
	r.Post("/api/limit", s.answer(s.changeLimit))
	r.Post("/api/rig", s.answer(s.selectRig))
	r.Post("/api/feed", s.answer(s.pushFeed))
}

// deadlines bounds how long a body may take to come and an answer to go.
func deadlines(write time.Duration) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			c := http.NewResponseController(w)
			now := time.Now()
			c.SetReadDeadline(now.Add(bodyTimeout)) // a writer without deadlines is a test's
			c.SetWriteDeadline(now.Add(write))
			next.ServeHTTP(w, r)
		})
	}
}
