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
