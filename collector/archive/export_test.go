package archive

import "soakline/collector/session"

// Stepped records a session by hand: each call is one commit.
func Stepped(s *Store, from *session.Session) (commit func() error) {
	return s.recorder(from).flush
}
