package main

import (
	"context"
	"fmt"
	"net/http"

	"soakline/collector/archive"
	"soakline/collector/session"
	"soakline/collector/telemetry"
	"soakline/server"
)

type setupCmd struct {
	Settings []string `arg:"" optional:"" help:"Conditions, KEY=VALUE; without any the setup is shown. KEY= takes one out."`
	Session  string   `help:"A session's id or its beginning (default: the one being recorded)." placeholder:"SESSION"`
}

// Help is shown by 'soakline setup --help'.
func (setupCmd) Help() string {
	return `Example:
  soakline setup paste=re-applied
  soakline setup --session last cooler="plate, mounted again"
  soakline setup --session last`
}

// Run shows or corrects a setup; what stood there stays in the history.
func (s *setupCmd) Run(ctx context.Context, e *env, c *cli) error {
	settings, err := pairs(s.Settings)
	if err != nil {
		return err
	}
	n, live, err := runs(ctx, s.Session)
	if err != nil {
		return err
	}
	if live {
		var setup []telemetry.Setting
		for _, kv := range settings {
			if err := n.Change(ctx, http.MethodPost, "/api/setup", map[string]string{"key": kv.Key, "value": kv.Value}, &setup); err != nil {
				return err
			}
		}
		if len(settings) == 0 {
			var layout struct{ Setup []telemetry.Setting }
			if err := n.Change(ctx, http.MethodGet, "/api/layout", nil, &layout); err != nil {
				return err
			}
			setup = layout.Setup
		}
		printSetup(e, setup)
		return nil
	}
	store, err := c.open(e)
	if err != nil {
		return err
	}
	defer store.Close()
	for _, kv := range settings {
		if err := store.SetSetting(ctx, s.Session, kv.Key, kv.Value); err != nil {
			return err
		}
	}
	_, setup, err := store.Setup(ctx, s.Session)
	if err == nil {
		printSetup(e, setup)
	}
	return err
}

func printSetup(e *env, setup []telemetry.Setting) {
	for _, kv := range setup {
		fmt.Fprintf(e.out, "%s = %s\n", plain(kv.Key), plain(kv.Value))
	}
}

// likeFlags let a new session take the conditions of an earlier one over.
type likeFlags struct {
	SetupLike string `help:"Take over what nobody says otherwise from the setup of an earlier session; 'last' is this machine's last one." placeholder:"SESSION"`
}

// apply takes over what was asked for and tells what differs from the session before.
func (l likeFlags) apply(ctx context.Context, e *env, store *archive.Store, s *session.Session) (server.LastSession, error) {
	id, setup, err := store.LastSetup(ctx, s.Info())
	if err == nil && l.SetupLike != "" && l.SetupLike != archive.Last {
		id, setup, err = store.Setup(ctx, l.SetupLike)
	}
	if err != nil {
		return server.LastSession{}, usage(err)
	}
	if id == "" {
		if l.SetupLike != "" {
			fmt.Fprintln(e.errOut, "there is no earlier session of this machine to take a setup from")
		}
		return server.LastSession{}, nil
	}
	open := session.TakeOver(setup, s.Setup())
	if l.SetupLike != "" {
		for _, kv := range open {
			if err := s.SetSetting(kv.Key, kv.Value); err != nil {
				return server.LastSession{}, usage(err)
			}
		}
		fmt.Fprintf(e.errOut, "%d conditions taken over from session %s\n", len(open), id)
	} else if len(open) > 0 {
		fmt.Fprintf(e.errOut, "session %s also said %s; --setup-like %s takes it over\n", id, settingWords(open), id)
	}
	for _, d := range session.Differences(setup, s.Setup()) {
		if d.Now != "" && d.Before != "" {
			fmt.Fprintf(e.errOut, "unlike session %s: %s = %s, was %s\n", id, plain(d.Key), plain(d.Now), plain(d.Before))
		}
	}
	return server.LastSession{ID: id, Setup: setup}, nil
}

func settingWords(setup []telemetry.Setting) string {
	text := ""
	for i, kv := range setup[:min(3, len(setup))] {
		if i > 0 {
			text += "; "
		}
		text += plain(kv.Key + " = " + kv.Value)
	}
	if len(setup) > 3 {
		text += fmt.Sprintf(" and %d more", len(setup)-3)
	}
	return text
}
