package server

import (
	"errors"
	"io"
	"net/http"

	"soakline/server/wire"
)

// FeedPush takes lines of instruments and says how many were taken and which were not.
type FeedPush func(lines io.Reader) (taken int, refused []wire.FeedRefused, err error)

// maxFeed is the most that one push may hold, in bytes.
const maxFeed = 64 << 10

// pushFeed answers POST /api/feed: lines of the feed protocol, as plain text. Lines that
// are good are taken whatever is wrong with their neighbours; where none is, the answer
// is an error, so that a sender that looks at the status alone sees it.
func (s *Server) pushFeed(w http.ResponseWriter, r *http.Request) error {
	if s.config.Feed == nil {
		return &refusal{http.StatusNotFound, "no feed is pushed to this session: start soakline with --feed push:"}
	}
	taken, refused, err := s.config.Feed(http.MaxBytesReader(w, r.Body, maxFeed))
	var long *http.MaxBytesError
	switch {
	case errors.As(err, &long):
		return &refusal{http.StatusRequestEntityTooLarge, "a push holds 65536 bytes at most: send the lines in pieces"}
	case err != nil:
		return badRequest("%v", err)
	case taken == 0 && len(refused) > 0:
		return badRequest("line %d: %s", refused[0].Line, refused[0].Reason)
	}
	return writeJSON(w, wire.FeedAnswer{Taken: taken, Refused: append([]wire.FeedRefused{}, refused...)})
}
