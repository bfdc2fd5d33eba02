package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"soakline/server/report"
	"soakline/web"
)

type reportCmd struct {
	Sessions  []string `arg:"" help:"Sessions or trace files, one a setup, the first to hold the others against; several runs of one setup are joined by commas: A1,A2 B1,B2."`
	Out       string   `short:"o" help:"The file to write; '-' or nothing is standard output." placeholder:"FILE"`
	Question  string   `help:"What the job was to find out: the report's title." placeholder:"TEXT"`
	LimitC    float64  `name:"limit-c" help:"The die temperature that you will not exceed, in degC." placeholder:"DEGC"`
	Anonymous bool     `help:"Leave out host names, serial numbers, session ids, dates, device names and the text of commands."`
	Markdown  bool     `help:"Write the tables alone, as Markdown." xor:"form"`
	Text      bool     `help:"Write the tables alone, as plain text." xor:"form"`
}

// Help is shown by 'soakline report --help'.
func (reportCmd) Help() string {
	return `Example:
  soakline report 20260301-201500-k3f last -o plate.html --question "Does the plate carry 28 W?" --limit-c 90
  soakline report fan.csv plate.csv --markdown`
}

// Run makes the report. A file appears whole or not at all.
func (r *reportCmd) Run(ctx context.Context, e *env, c *cli) error {
	l := loader{ctx: ctx, cli: c, env: e}
	defer l.close()
	in := report.Input{Question: r.Question, LimitC: r.LimitC, Anonymous: r.Anonymous, Made: time.Now(), Fonts: web.Page()}
	for _, names := range r.Sessions {
		var runs []report.Run
		for name := range strings.SplitSeq(names, ",") {
			run, err := l.run(strings.TrimSpace(name))
			if err != nil {
				return err
			}
			runs = append(runs, run)
		}
		in.Setups = append(in.Setups, runs)
	}
	made, err := report.Make(in)
	if err != nil {
		return usage(err)
	}
	write := made.HTML
	switch {
	case r.Markdown:
		write = made.Markdown
	case r.Text:
		write = made.Text
	}
	if r.Out == "" || r.Out == "-" {
		return write(e.out)
	}
	if err := writeWhole(r.Out, write); err != nil {
		return err
	}
	fmt.Fprintf(e.errOut, "report written to %s\n", r.Out)
	return nil
}

// run loads a session with what the archive knows of it, or a trace file.
func (l *loader) run(name string) (report.Run, error) {
	tr, err := l.load(name, nil)
	if err != nil {
		return report.Run{}, err
	}
	if l.store == nil { // only files were named so far
		return report.Run{Trace: tr, ID: filepath.Base(name)}, nil
	}
	known, err := l.store.Describe(l.ctx, name)
	if err != nil { // a file beside sessions
		return report.Run{Trace: tr, ID: filepath.Base(name)}, nil
	}
	return report.Run{Trace: tr, ID: known.ID, Name: known.Name, Host: known.Host}, nil
}
