package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/analysis/ladder"
	"soakline/collector/archive"
	"soakline/server/picture"
)

type ladderCmd struct {
	Sessions []string `arg:"" optional:"" help:"Sessions or trace files in the order tried; without any, all kept sessions of the machine of the newest one."`
	Find     string   `help:"Take the sessions whose id, name or setup holds this text." placeholder:"TEXT"`
	Machine  string   `help:"Take the sessions of this machine (a host's name, or the setting 'machine')." placeholder:"NAME"`
	Stock    string   `help:"What all are held against: a letter, a session, or part of a condition (default: the one whose setting 'stock' is yes, else the first)." placeholder:"TEXT"`
	LimitC   float64  `name:"limit-c" help:"The die temperature that you will not exceed, in degC." placeholder:"DEGC"`
	JSON     bool     `name:"json" help:"Print it as JSON (schema soakline.ladder/1)." xor:"form"`
	Markdown bool     `help:"Print it as Markdown tables." xor:"form"`
	CSV      bool     `name:"csv" help:"Print it as CSV, one row a setup and figure." xor:"form"`
	SVG      string   `name:"svg" help:"Also draw it, as an SVG file." placeholder:"FILE"`
}

// Help is shown by 'soakline ladder --help'.
func (ladderCmd) Help() string {
	return `Runs with equal conditions are one setup; each is held against stock and against the one before.

Example:
  soakline ladder --find plate --svg plate.svg
  soakline ladder fan-1.csv fan-2.csv plate-1.csv plate-2.csv --stock fan --markdown`
}

// mostLadder is how many sessions are read into memory at once.
const mostLadder = 60

// Run orders the setups of a machine and says what each change brought.
func (x *ladderCmd) Run(ctx context.Context, e *env, c *cli) error {
	l := loader{ctx: ctx, cli: c, env: e}
	defer l.close()
	runs, err := x.runs(&l)
	if err != nil {
		return err
	}
	made, err := ladder.Build(runs, ladder.Options{Stock: x.Stock, Quick: !x.JSON})
	if err != nil {
		return usage(err)
	}
	if x.SVG != "" {
		if err := writeWhole(x.SVG, picture.Ladder(made, picture.Options{}).WriteSVG); err != nil {
			return err
		}
		fmt.Fprintf(e.errOut, "ladder drawn to %s\n", x.SVG)
	}
	return x.write(e.out, made)
}

func (x *ladderCmd) write(w io.Writer, l ladder.Ladder) error {
	switch {
	case x.JSON:
		enc := json.NewEncoder(w)
		enc.SetIndent("", "  ")
		return enc.Encode(l)
	case x.Markdown:
		return l.Markdown(w)
	case x.CSV:
		return l.CSV(w)
	}
	return l.Text(w)
}

// runs are the named sessions in their order, or those of one machine by their start.
func (x *ladderCmd) runs(l *loader) ([]ladder.Run, error) {
	if len(x.Sessions) > 0 {
		return x.named(l, x.Sessions)
	}
	store, err := l.cli.open(l.env)
	if err != nil {
		return nil, err
	}
	l.store = store
	list, err := store.Sessions(l.ctx, archive.Filter{Text: x.Find})
	if err != nil {
		return nil, err
	}
	list, others := ofMachine(list, x.Machine)
	switch {
	case len(list) == 0:
		return nil, usage(fmt.Errorf("no session fits; 'soakline sessions' lists them, and trace files are named by their paths"))
	case len(list) > mostLadder:
		return nil, usage(fmt.Errorf("%d sessions are too many for one ladder (%d): choose with --find", len(list), mostLadder))
	}
	if len(others) > 0 {
		fmt.Fprintf(l.env.errOut, "the ladder of %s; others with --machine: %s\n", plain(machineOf(list[0])), plain(strings.Join(others, ", ")))
	}
	var names []string
	for _, s := range list {
		names = append(names, s.ID)
	}
	runs, err := x.named(l, names)
	if err == nil {
		ladder.Order(runs)
	}
	return runs, err
}

// named loads and analyses sessions one by one.
func (x *ladderCmd) named(l *loader, names []string) ([]ladder.Run, error) {
	var out []ladder.Run
	for _, name := range names {
		r, err := l.run(name)
		if err != nil {
			return nil, err
		}
		machine := r.Host
		for _, s := range r.Trace.Setup {
			if s.Key == "machine" {
				machine = s.Value
			}
		}
		out = append(out, ladder.Run{Run: compare.Of(r.Trace, analysis.Options{LimitC: x.LimitC}), ID: strings.TrimSuffix(r.ID, filepath.Ext(r.ID)), Name: r.Name, Machine: machine})
	}
	if machines := ladder.Machines(out); len(machines) > 1 {
		return nil, usage(fmt.Errorf("these sessions are of %d machines: make a ladder of each", len(machines)))
	}
	return out, nil
}

func machineOf(s archive.Entry) string {
	for _, kv := range s.Setup {
		if kv.Key == "machine" && kv.Value != "" {
			return kv.Value
		}
	}
	return s.Host
}

// ofMachine keeps the closed sessions of a machine, that of the newest one where none is
// named, and says which others there are.
func ofMachine(list []archive.Entry, machine string) (kept []archive.Entry, others []string) {
	for _, s := range list {
		if s.State == archive.StateRecording || s.Rows == 0 {
			continue
		}
		switch m := machineOf(s); {
		case machine == "" && len(kept) == 0, len(kept) > 0 && m == machineOf(kept[0]), machine != "" && m == machine:
			kept = append(kept, s)
		case !slices.Contains(others, m) && m != "":
			others = append(others, m)
		}
	}
	slices.Reverse(kept) // the archive lists the newest first
	return kept, others
}
