package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strings"

	"soakline/collector/telemetry"
	"soakline/server/wire"
)

type markCmd struct {
	Text    []string `arg:"" help:"What happened, in your words."`
	At      *float64 `help:"When, in seconds from the session's start (default: now)." placeholder:"SECONDS"`
	Correct int64    `help:"Give mark number N this text instead; what stood there stays in the history ('soakline sessions show' tells the numbers)." placeholder:"N"`
	Session string   `help:"A session's id or its beginning (default: the one being recorded)." placeholder:"SESSION"`
}

// Help is shown by 'soakline mark --help'.
func (markCmd) Help() string {
	return `Example:
  soakline mark panel back on
  soakline mark --session last --at 62.5 panel back on
  soakline mark --session last --correct 3 panel off, not on`
}

// Run pins a note to a time, in the recording in progress or in a session of the archive.
func (m *markCmd) Run(ctx context.Context, e *env, c *cli) error {
	text := strings.Join(m.Text, " ")
	if m.At != nil && (*m.At < 0 || math.IsNaN(*m.At)) {
		return usage(fmt.Errorf("--at %g: expected a time from 0 on", *m.At))
	}
	n, live, err := runs(ctx, m.Session)
	if err != nil {
		return err
	}
	if live {
		var made wire.Mark
		if m.Correct != 0 {
			err = n.Change(ctx, http.MethodPut, fmt.Sprintf("/api/marks/%d", m.Correct), map[string]string{"text": text}, &made)
		} else {
			err = n.Change(ctx, http.MethodPost, "/api/marks", map[string]any{"text": text, "at_s": m.At}, &made)
		}
		if err == nil {
			fmt.Fprintf(e.out, "mark %d at %.1f s of session %s\n", made.ID, made.AtS, n.Session)
		}
		return err
	}
	store, err := c.open(e)
	if err != nil {
		return err
	}
	defer store.Close()
	if m.Correct != 0 {
		return store.EditMark(ctx, m.Session, m.Correct, text)
	}
	if m.At == nil {
		return usage(errors.New("the session is over: say when with --at SECONDS"))
	}
	made, err := store.SetMark(ctx, m.Session, telemetry.Mark{At: *m.At, Text: text})
	if err == nil {
		fmt.Fprintf(e.out, "mark %d at %.1f s\n", made.ID, made.At)
	}
	return err
}
