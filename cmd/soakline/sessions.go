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
	Find string `arg:"" optional:"" help:"Show only sessions whose id, name or setup holds this text."`
	JSON bool   `name:"json" help:"Print the list as JSON."`
}

// Help is shown by 'soakline sessions --help'.
func (sessionsCmd) Help() string {
	return `Example:
  soakline sessions
  soakline sessions plate`
}

// Run lists the sessions, the newest first.
func (s *sessionsCmd) Run(ctx context.Context, e *env, c *cli) error {
	store, err := c.open(e)
	if err != nil {
		return err
	}
	defer store.Close()
	list, err := store.Sessions(ctx, archive.Filter{Text: s.Find})
	if err != nil {
		return err
	}
	if s.JSON {
		enc := json.NewEncoder(e.out)
		enc.SetIndent("", "  ")
		return enc.Encode(list)
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
	if s.Simulated {
		return string(s.State) + ", SIMULATED"
	}
	return string(s.State)
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
	return strings.Join(parts, "; ")
}
