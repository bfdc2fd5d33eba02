package server

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"

	"soakline/server/wire"
)

// refusal is an error that the viewer is told, with its status.
type refusal struct {
	status int
	text   string
}

func (e *refusal) Error() string { return e.text }

func badRequest(format string, args ...any) error {
	return &refusal{http.StatusBadRequest, fmt.Sprintf(format, args...)}
}

// handler answers a request or gives the reason why not.
type handler func(w http.ResponseWriter, r *http.Request) error

// answer is the one place where an error becomes an answer. An error that is not meant
// for the viewer goes to the log.
func (s *Server) answer(h handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		err := h(w, r)
		var told *refusal
		switch {
		case err == nil:
		case errors.As(err, &told):
			refuse(w, told.status, told.text)
		default:
			s.config.Log.Warn("request failed", "path", r.URL.Path, "err", err)
			refuse(w, http.StatusInternalServerError, "this could not be answered; the program's log says why")
		}
	}
}

func refuse(w http.ResponseWriter, status int, text string) {
	body, _ := json.Marshal(wire.Error{Error: text}) // a string always encodes
	writeBody(w, status, "application/json", body)
}

func writeJSON(w http.ResponseWriter, value any) error {
	body, err := json.Marshal(value)
	if err != nil {
		return err
	}
	writeBody(w, http.StatusOK, "application/json", body)
	return nil
}

func writeBody(w http.ResponseWriter, status int, kind string, body []byte) {
	h := w.Header()
	h.Del("Content-Disposition")
	h.Set("Content-Type", kind)
	h.Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	w.Write(body) // an error here is the viewer's going away
}

// readJSON reads a request's body into value, strictly: a JSON content type (which no
// form of another page can send), a bounded length, known fields, one value.
func readJSON(w http.ResponseWriter, r *http.Request, value any) error {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		return &refusal{http.StatusUnsupportedMediaType, "the body must be application/json"}
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
	var long *http.MaxBytesError
	if errors.As(err, &long) {
		return &refusal{http.StatusRequestEntityTooLarge, fmt.Sprintf("the body is longer than %d bytes", maxBody)}
	}
	if err != nil {
		return badRequest("the body broke off")
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.DisallowUnknownFields()
	if err := d.Decode(value); err != nil {
		return badRequest("the body is not as expected near byte %d: %v", d.InputOffset(), err)
	}
	if _, err := d.Token(); err != io.EOF {
		return badRequest("the body goes on after byte %d", d.InputOffset())
	}
	return nil
}
