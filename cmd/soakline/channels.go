package main

import (
	"context"
	"encoding/json"
	"fmt"
	"text/tabwriter"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/sampler"
	"soakline/collector/source/machine"
	"soakline/collector/telemetry"
)

type channelsCmd struct {
	JSON bool      `name:"json" help:"Print the list as JSON."`
	Rig  string    `help:"List the channels of the simulated machine in this setup: ${rigs}." placeholder:"SETUP"`
	Role roleFlags `help:"Give a channel a role, for instance die=\"cpu 0\"." placeholder:"ROLE=CHANNEL" sep:"none"`

	Explain bool          `help:"Say what root or a group would add here, and how to grant only that. Nothing is changed."`
	Cost    time.Duration `help:"Measure what watching itself adds: phases of this length with and without it, by turns." placeholder:"2m"`
	Turns   int           `help:"How many turns --cost takes; more make the interval narrower." default:"2"`
}

// Help is shown by 'soakline channels --help'.
func (channelsCmd) Help() string {
	return `Example:
  soakline channels
  soakline channels --role die="cpu 0"
  soakline channels --explain
  soakline channels --cost 2m --turns 4`
}

// How often each group is read to learn what a read costs, and how long that may take.
const (
	costReads = 9
	costLimit = 2 * time.Second
)

// Run opens every source, reads each group a few times and prints what it found.
func (ch *channelsCmd) Run(ctx context.Context, e *env) error {
	roles, err := ch.Role.roles()
	if err != nil {
		return err
	}
	if ch.Explain {
		return explain(e.out, rawfs.At("/"))
	}
	f := machineFeed(100*time.Millisecond, roles)
	if ch.Cost != 0 && ch.Rig == "" {
		return measureCost(ctx, e, f, func() []telemetry.Source { return machine.Sources("/") }, ch.Cost, ch.Turns, ch.JSON)
	}
	if ch.Rig != "" {
		if err := knownRig(ch.Rig); err != nil {
			return usage(err)
		}
		f = rigFeed(ch.Rig, 1, 100*time.Millisecond, roles)
	}
	b, err := f.open(ctx, e)
	if err != nil {
		return err
	}
	defer b.sampler.Close()
	list := inventory(b.found, b.sampler.Measure(costReads, costLimit))
	if ch.JSON {
		enc := json.NewEncoder(e.out)
		enc.SetIndent("", "  ")
		return enc.Encode(list)
	}
	return list.print(e)
}

// listing is what the verb prints.
type listing struct {
	Channels []listed       `json:"channels"`
	Missing  []missed       `json:"missing"`
	Sources  []sourceListed `json:"sources"`
}

type listed struct {
	Name     string   `json:"name"`
	Unit     string   `json:"unit"`
	Role     string   `json:"role"`
	Source   string   `json:"source"`
	Device   string   `json:"device"`
	Key      string   `json:"key"`
	RefreshS *float64 `json:"refresh_s"` // null: not known
	ReadUs   *float64 `json:"read_us"`   // median of its group; null: not measured
	GroupOf  int      `json:"group_channels"`
	Slow     bool     `json:"slow"`
	Hangs    bool     `json:"hangs"`
}

type missed struct {
	Name   string `json:"name"`
	Source string `json:"source"`
	Role   string `json:"role"`
	Reason string `json:"reason"`
	Remedy string `json:"remedy"`
}

type sourceListed struct {
	Name     string `json:"name"`
	Status   string `json:"status"`
	Reason   string `json:"reason"`
	Channels int    `json:"channels"`
}

func inventory(found sampler.Found, costs []sampler.Cost) listing {
	cost := map[string]sampler.Cost{}
	for _, c := range costs {
		for _, k := range c.Keys {
			cost[k] = c
		}
	}
	l := listing{Channels: []listed{}, Missing: []missed{}, Sources: []sourceListed{}}
	for _, c := range found.Channels {
		row := listed{Name: c.Name, Unit: c.Quantity.Unit(), Role: string(c.Role), Source: c.Source, Device: c.Device, Key: c.Key}
		if c.Refresh > 0 {
			row.RefreshS = new(c.Refresh.Seconds())
		}
		if k, ok := cost[c.Key]; ok {
			row.GroupOf, row.Slow, row.Hangs = k.Channels, k.Slow, k.Hangs
			if k.Reads > 0 {
				row.ReadUs = new(float64(k.Median) / float64(time.Microsecond))
			}
		}
		l.Channels = append(l.Channels, row)
	}
	for _, m := range found.Missing {
		l.Missing = append(l.Missing, missed{m.Name, m.Source, string(m.Role), m.Reason, m.Remedy})
	}
	for _, s := range found.Sources {
		l.Sources = append(l.Sources, sourceListed{s.Name, s.Status.String(), s.Reason, s.Channels})
	}
	return l
}

func (l listing) print(e *env) error {
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "CHANNEL\tROLE\tUNIT\tSOURCE\tRENEWED\tA READ COSTS\tDEVICE")
	for _, c := range l.Channels {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", plain(c.Name), dash(c.Role), dash(c.Unit), c.Source, renewed(c.RefreshS), c.cost(), plain(c.Device))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if len(l.Missing) > 0 {
		fmt.Fprintln(e.out, "\nMissing")
		for _, m := range l.Missing {
			fmt.Fprintf(e.out, "  %s (%s): %s\n", plain(m.Name), m.Source, plain(m.Reason))
			if m.Remedy != "" {
				fmt.Fprintf(e.out, "      %s\n", plain(m.Remedy))
			}
		}
	}
	fmt.Fprintln(e.out, "\nSources")
	for _, s := range l.Sources {
		fmt.Fprintf(e.out, "  %-10s %s%s\n", s.Name, s.Status, reason(s.Reason))
	}
	return nil
}

func (c listed) cost() string {
	switch {
	case c.Hangs:
		return "did not come back"
	case c.ReadUs == nil:
		return "not measured"
	}
	text := fmt.Sprintf("%.0f us", *c.ReadUs)
	if c.GroupOf > 1 {
		text += fmt.Sprintf(" for %d", c.GroupOf)
	}
	if c.Slow {
		text += ", aside"
	}
	return text
}

func renewed(s *float64) string {
	if s == nil {
		return "not known"
	}
	return fmt.Sprintf("%g s", *s)
}

func reason(s string) string {
	if s == "" {
		return ""
	}
	return ": " + plain(s)
}

func dash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// plain makes untrusted text safe for a terminal: control characters, which could move
// the cursor or change the title, are shown as they are written in Go.
func plain(s string) string {
	for _, r := range s {
		if r < ' ' || r == 0x7f || (r >= 0x80 && r < 0xa0) {
			q := fmt.Sprintf("%q", s)
			return q[1 : len(q)-1]
		}
	}
	return s
}
