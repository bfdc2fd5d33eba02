package main

import (
	"context"
	"fmt"

	"soakline/collector/session"
	"soakline/collector/source/relay"
	"soakline/collector/telemetry"
)

// fromFlag names another computer whose soakline is followed.
type fromFlag struct {
	From string `help:"Follow the soakline on another computer, and keep what it measures here too, so that it survives a crash there." placeholder:"URL"`
}

// follow makes contact with the other computer. Its rows make the ticks.
func (f fromFlag) follow(ctx context.Context, e *env, roles map[telemetry.Role]string) (feed, error) {
	s, err := relay.New(ctx, f.From, relay.Config{Log: e.log})
	if err != nil {
		return feed{}, fmt.Errorf("%w; there it must run as 'soakline watch --listen 0.0.0.0:7625'", err)
	}
	return feed{origin: session.Live, sources: []telemetry.Source{s}, clock: s.Clock(), period: s.Period(), roles: roles, host: s.Host()}, nil
}
