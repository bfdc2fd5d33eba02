package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"text/tabwriter"
	"time"

	lines "soakline/collector/source/feed"
)

type feedCmd struct {
	Check feedCheckCmd `cmd:"" help:"Show what a feed sends: names, units, rates, clock, and lines that are refused."`
}

type feedCheckCmd struct {
	Way string        `arg:"" help:"How lines come: ${ways}."`
	For time.Duration `help:"How long to look." default:"10s"`
}

// Help is shown by 'soakline feed check --help'.
func (feedCheckCmd) Help() string {
	return `A line is a name, a value, a unit and, if the sender has a clock, its time in seconds:
  "coolant in" 24.31 degC 8123.50

Example:
  soakline feed check 'run: ./read-thermocouple'
  soakline feed check 'serial: /dev/ttyUSB0 115200' --for 1m`
}

// Run takes a feed for a while and prints what came. Nothing at all is a failure.
func (c *feedCheckCmd) Run(ctx context.Context, e *env) error {
	if c.For <= 0 {
		return usage(fmt.Errorf("--for %v: expected a time above 0", c.For))
	}
	mine, stop := context.WithCancel(ctx)
	defer stop()
	s, err := beginFeed(mine, e, c.Way, 0)
	if err != nil {
		return err
	}
	if s.Pushed() {
		return usage(errors.New("push: needs the page's address: start 'soakline watch --feed push:'; it prints the command, and each push is answered with what was refused"))
	}
	fmt.Fprintf(e.errOut, "looking for %v; Ctrl-C ends it sooner\n", c.For)
	pause(ctx, c.For)
	report := s.Report()
	stop()
	<-s.Done()
	if err := printFeed(e, report); err != nil {
		return err
	}
	if len(report.Channels) == 0 {
		return fmt.Errorf("%s: no reading came: %s", report.Title, dash(report.Trouble))
	}
	return nil
}

func printFeed(e *env, r lines.Report) error {
	fmt.Fprintf(e.out, "%s: %d lines\n", plain(r.Title), r.Lines)
	if h := r.Hello; h != (lines.Hello{}) {
		fmt.Fprintf(e.out, "sender: %s on %s, a reading every %s\n", dash(plain(h.Source)), dash(plain(h.Host)), orDash(h.Interval, "%g s"))
	}
	if !math.IsNaN(r.OffsetS) {
		fmt.Fprintf(e.out, "clock: the sender's stood at %.3f s when this began, by the reading least held up\n", -r.OffsetS)
	}
	if r.Trouble != "" {
		fmt.Fprintf(e.out, "no contact: %s\n", plain(r.Trouble))
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "\nCHANNEL\tROLE\tLAST\tUNIT\tREADINGS\tRATE\tDELAY UP TO\tLOST\tLATE\tREPEATED")
	for _, c := range r.Channels {
		last := "none: " + c.State.Reason()
		if c.State.Usable() {
			last = fmt.Sprintf("%.6g", c.Value)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%d\t%s\t%s\t%d\t%d\t%d\n", plain(c.Name), dash(string(c.Role)), last, c.Quantity.Unit(), c.Readings,
			orDash(c.RateHz, "%.3g/s"), orDash(c.DelayS, "%.3f s"), c.Lost, c.Late, c.Repeated)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if len(r.Refusals) > 0 {
		fmt.Fprintln(e.out, "\nRefused")
		for _, f := range r.Refusals {
			fmt.Fprintf(e.out, "  %d x %s\n      %s\n", f.Count, plain(f.Reason), plain(f.Line))
		}
	}
	return nil
}

// orDash prints a number that may be unknown or 0.
func orDash(v float64, format string) string {
	if math.IsNaN(v) || v == 0 {
		return "-"
	}
	return fmt.Sprintf(format, v)
}
