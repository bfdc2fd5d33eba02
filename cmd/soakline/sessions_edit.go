package main

import (
	"context"
	"fmt"

	"soakline/collector/archive"
)

// oneSession names the session that a verb works on.
type oneSession struct {
	Session string `arg:"" help:"A session's id or its unique beginning, its name, or 'last'."`
}

// with opens the archive for f; what a user named wrongly is exit status 2.
func (c *cli) with(e *env, f func(*archive.Store) error) error {
	store, err := c.open(e)
	if err != nil {
		return err
	}
	defer store.Close()
	return asUsage(f(store))
}

type sessionsRenameCmd struct {
	oneSession
	Name string `arg:"" help:"The new name; \"\" takes the name away."`
}

// Run gives a session another name.
func (s *sessionsRenameCmd) Run(ctx context.Context, e *env, c *cli) error {
	return c.with(e, func(store *archive.Store) error { return store.Rename(ctx, s.Session, s.Name) })
}

type sessionsPinCmd struct{ oneSession }

// Run pins a session.
func (s *sessionsPinCmd) Run(ctx context.Context, e *env, c *cli) error {
	return c.with(e, func(store *archive.Store) error { return store.Pin(ctx, s.Session, true) })
}

type sessionsUnpinCmd struct{ oneSession }

// Run takes a pin off.
func (s *sessionsUnpinCmd) Run(ctx context.Context, e *env, c *cli) error {
	return c.with(e, func(store *archive.Store) error { return store.Pin(ctx, s.Session, false) })
}

type sessionsDeleteCmd struct{ oneSession }

// Run deletes a session, and says how it comes back.
func (s *sessionsDeleteCmd) Run(ctx context.Context, e *env, c *cli) error {
	return c.with(e, func(store *archive.Store) error {
		id, _, err := store.Setup(ctx, s.Session)
		if err == nil {
			err = store.Delete(ctx, id)
		}
		if err == nil {
			fmt.Fprintf(e.out, "deleted; 'soakline sessions restore %s' brings it back\n", id)
		}
		return err
	})
}

type sessionsRestoreCmd struct {
	Session string `arg:"" help:"A deleted session's id or its unique beginning; 'last' is the one deleted last."`
}

// Run brings a deleted session back.
func (s *sessionsRestoreCmd) Run(ctx context.Context, e *env, c *cli) error {
	return c.with(e, func(store *archive.Store) error {
		id, err := store.Restore(ctx, s.Session)
		if err == nil {
			fmt.Fprintln(e.out, id)
		}
		return err
	})
}

type sessionsShowCmd struct{ oneSession }

// Run shows what is known of a session beside its rows.
func (s *sessionsShowCmd) Run(ctx context.Context, e *env, c *cli) error {
	return c.with(e, func(store *archive.Store) error {
		d, err := store.Describe(ctx, s.Session)
		if err != nil {
			return err
		}
		fmt.Fprintf(e.out, "%s  %s\nstarted %s, lasted %.1f s, %d rows of %d channels, %s, %s on the disk\n", d.ID, plain(d.Name), began(d.Start),
			d.Length.Seconds(), d.Rows, d.Channels, state(d.Entry), bytesWords(d.Bytes))
		if d.Why != "" {
			fmt.Fprintf(e.out, "ended: %s\n", plain(d.Why))
		}
		printSetup(e, d.Setup)
		for _, m := range d.Marks {
			fmt.Fprintf(e.out, "mark %d at %.1f s (%s): %s\n", m.ID, m.At, m.Kind, plain(m.Text))
		}
		for _, sc := range d.Scores {
			fmt.Fprintf(e.out, "%s, at %.1f s\n", scoreWords(sc), sc.At)
		}
		for _, h := range d.History {
			fmt.Fprintf(e.out, "corrected %s: %s %s was %q\n", h.Changed.Local().Format("2006-01-02 15:04:05"), h.What, plain(h.Item), h.Before)
		}
		return nil
	})
}
