package archive

import (
	"context"
	"database/sql"
	"errors"

	"soakline/collector/session"
	"soakline/collector/telemetry"
)

// LastSetup gives the setup of the newest session of the same machine beside the one of
// info itself: the same host, and measured or simulated alike. id is "" where there is none.
func (s *Store) LastSetup(ctx context.Context, info session.Info) (id string, setup []telemetry.Setting, err error) {
	var number int64
	err = s.read.QueryRowContext(ctx, `SELECT number, id FROM session WHERE host = ? AND origin = ? AND simulated = ? AND id != ? AND deleted IS NULL
		ORDER BY stored DESC, number DESC LIMIT 1`, info.Host, string(info.Origin), info.Simulated, info.ID).Scan(&number, &id)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil, nil
	}
	if err == nil {
		setup, err = loadSetup(ctx, s.read, number)
	}
	return id, setup, fault("read the last setup from", s.path, err)
}

// Setup gives the setup of one session and its id.
func (s *Store) Setup(ctx context.Context, id string) (string, []telemetry.Setting, error) {
	r, err := resolve(ctx, s.read, id)
	if err != nil {
		return "", nil, fault("read the setup of", id, err)
	}
	setup, err := loadSetup(ctx, s.read, r.number)
	return r.id, setup, fault("read the setup of", r.id, err)
}

// Description is all that is known of a session beside its rows.
type Description struct {
	Entry
	Marks   []telemetry.Mark
	History []Correction
}

// Describe gives what is known of one session beside its rows.
func (s *Store) Describe(ctx context.Context, id string) (d Description, err error) {
	r, err := resolve(ctx, s.read, id)
	if err != nil {
		return d, fault("describe", id, err)
	}
	list, err := s.Sessions(ctx, Filter{Text: r.id})
	for _, e := range list {
		if e.ID == r.id {
			d.Entry = e
		}
	}
	if err == nil {
		d.Marks, err = loadMarks(ctx, s.read, r.number)
	}
	if err == nil {
		d.History, err = s.history(ctx, r.id)
	}
	return d, fault("describe", r.id, err)
}
