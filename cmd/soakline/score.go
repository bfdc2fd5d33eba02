package main

import (
	"context"
	"fmt"
	"net/http"
	"strconv"

	"soakline/collector/telemetry"
	"soakline/server/wire"
)

type scoreCmd struct {
	Session string   `arg:"" help:"A session's id or its beginning, 'last', or 'running' for the one being recorded."`
	Value   float64  `arg:"" help:"What the run achieved."`
	Unit    string   `help:"Its unit, in your words." placeholder:"UNIT"`
	Name    string   `help:"What it is called, where there are several." default:"score" placeholder:"NAME"`
	At      *float64 `help:"A time within or after the run it belongs to, in seconds from the session's start (default: now, or the session's end)." placeholder:"SECONDS"`
	Higher  bool     `name:"higher-is-better" help:"More is better." xor:"direction" required:""`
	Lower   bool     `name:"lower-is-better" help:"Less is better." xor:"direction" required:""`
}

// Help is shown by 'soakline score --help'.
func (scoreCmd) Help() string {
	return `Example:
  soakline score last 1510 --unit points --higher-is-better
  soakline score running 41.3 --unit s --name "build time" --lower-is-better`
}

// Run notes what a run achieved.
func (s *scoreCmd) Run(ctx context.Context, e *env, c *cli) error {
	n, live, err := runs(ctx, s.Session)
	if err != nil {
		return err
	}
	if live {
		var made wire.Score
		err := n.Change(ctx, http.MethodPost, "/api/scores", map[string]any{"name": s.Name, "value": s.Value, "unit": s.Unit,
			"higher_is_better": s.Higher, "at_s": s.At}, &made)
		if err == nil {
			fmt.Fprintf(e.out, "%s, at %.1f s of session %s\n", scoreWords(telemetry.Score{Name: made.Name, Value: made.Value, Unit: made.Unit, HigherIsBetter: made.HigherIsBetter}), made.AtS, n.Session)
		}
		return err
	}
	store, err := c.open(e)
	if err != nil {
		return err
	}
	defer store.Close()
	at := -1.0
	if s.At != nil {
		if at = *s.At; at < 0 {
			return usage(fmt.Errorf("--at %g: expected a time from 0 on", at))
		}
	}
	sc, err := store.SetScore(ctx, s.Session, telemetry.Score{Name: s.Name, Value: s.Value, Unit: s.Unit, HigherIsBetter: s.Higher, At: at})
	if err == nil {
		fmt.Fprintf(e.out, "%s, at %.1f s\n", scoreWords(sc), sc.At)
	}
	return err
}

// scoreWords are a score as people read it.
func scoreWords(sc telemetry.Score) string {
	direction := "lower is better"
	if sc.HigherIsBetter {
		direction = "higher is better"
	}
	text := sc.Name + " " + strconv.FormatFloat(sc.Value, 'g', -1, 64)
	if sc.Unit != "" {
		text += " " + sc.Unit
	}
	return plain(text + ", " + direction)
}
