package main

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"soakline/collector/archive"
)

type sessionsCmd struct {
	List    sessionsListCmd    `cmd:"" default:"withargs" help:"List the sessions (what a bare 'soakline sessions' does)."`
	Show    sessionsShowCmd    `cmd:"" help:"Show one session: setup, marks, scores, and what was corrected."`
	Rename  sessionsRenameCmd  `cmd:"" help:"Give a session another name."`
	Pin     sessionsPinCmd     `cmd:"" help:"Keep a session whatever 'sessions keep' says."`
	Unpin   sessionsUnpinCmd   `cmd:"" help:"Take the pin off again."`
	Delete  sessionsDeleteCmd  `cmd:"" help:"Delete a session; 'sessions restore' brings it back for 30 days."`
	Restore sessionsRestoreCmd `cmd:"" help:"Bring a deleted session back."`
	Keep    sessionsKeepCmd    `cmd:"" help:"Show or set how long and how much is kept; off unless you set it."`
	Tidy    sessionsTidyCmd    `cmd:"" help:"Remove deleted sessions for good, and those that are no longer kept; give the space back."`
}

type sessionsListCmd struct {
	Find    string `arg:"" optional:"" help:"Show only sessions whose id, name or setup holds this text."`
	JSON    bool   `name:"json" help:"Print the list as JSON."`
	Deleted bool   `help:"List the deleted sessions that can be restored."`
}

// Help is shown by 'soakline sessions --help'.
func (sessionsCmd) Help() string {
	return `Example:
  soakline sessions
  soakline sessions plate
  soakline sessions rename last "plate, first mount"
  soakline sessions delete 20261125-0742
  soakline sessions restore last
  soakline sessions keep --age 90d --size 2GB`
}

// Run lists the sessions, the newest first.
func (s *sessionsListCmd) Run(ctx context.Context, e *env, c *cli) error {
	store, err := c.open(e)
	if err != nil {
		return err
	}
	defer store.Close()
	list, err := store.Sessions(ctx, archive.Filter{Text: s.Find, Deleted: s.Deleted})
	if err != nil {
		return err
	}
	if s.JSON {
		enc := json.NewEncoder(e.out)
		enc.SetIndent("", "  ")
		return enc.Encode(list)
	}
	if len(list) == 0 && (s.Deleted || s.Find != "") {
		fmt.Fprintln(e.errOut, "no such sessions")
		return nil
	}
	if len(list) == 0 {
		fmt.Fprintf(e.errOut, "no sessions in %s; 'soakline watch' and 'soakline record' make them\n", store.Path())
		return nil
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "SESSION\tSTARTED\tLASTED\tSTATE\tCHANNELS\tMARKS\tNAME AND SETUP")
	for _, s := range list {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%d\t%d\t%s\n", s.ID, began(s.Start), s.Length.Round(time.Second), state(s), s.Channels, s.Marks, about(s))
	}
	return w.Flush()
}

func began(t time.Time) string {
	if t.IsZero() {
		return "not known"
	}
	return t.Local().Format("2006-01-02 15:04")
}

func state(s archive.Entry) string {
	text := string(s.State)
	if s.Pinned {
		text += ", pinned"
	}
	if s.Simulated {
		text += ", SIMULATED"
	}
	return text
}

// about names a session by its name, else by the conditions that tell sessions apart.
func about(s archive.Entry) string {
	var parts []string
	if s.Name != "" {
		parts = append(parts, plain(s.Name))
	}
	for _, set := range s.Setup {
		switch set.Key {
		case "cooler", "paste", "mount", "lid":
			parts = append(parts, plain(set.Key+": "+set.Value))
		}
	}
	for _, sc := range s.Scores {
		parts = append(parts, scoreWords(sc))
	}
	return strings.Join(parts, "; ")
}
