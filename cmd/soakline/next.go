package main

import (
	"context"
	"encoding/json"
	"time"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/analysis/next"
)

type nextCmd struct {
	Trace   string        `arg:"" name:"file-or-session" help:"A trace file, a session's id or its unique beginning, or 'last'."`
	LimitC  float64       `name:"limit-c" help:"The die temperature that you will not exceed, in degC." placeholder:"DEGC"`
	Against string        `help:"An earlier setup of the same machine to compare with." placeholder:"FILE-OR-SESSION"`
	Runs    int           `help:"How many runs of this setup there are." default:"1" placeholder:"N"`
	Job     time.Duration `help:"Ask whether a longer burst window would carry a load of this length." placeholder:"45s"`
	JSON    bool          `name:"json" help:"Print the list as JSON (schema soakline.next/1)."`
}

// Help is shown by 'soakline next --help'.
func (nextCmd) Help() string {
	return `Example:
  soakline next last --limit-c 90
  soakline next plate-again.csv --against plate-first.csv --json`
}

// Run lists what to change, measure or repeat next, the most pressing first.
func (n *nextCmd) Run(ctx context.Context, e *env, c *cli) error {
	l := loader{ctx: ctx, cli: c, env: e}
	defer l.close()
	tr, err := l.load(n.Trace, nil)
	if err != nil {
		return err
	}
	run := compare.Of(tr, analysis.Options{LimitC: n.LimitC, JobS: n.Job.Seconds()})
	in := next.Input{Result: run.Result, Trace: tr, Runs: n.Runs}
	if n.Against != "" {
		earlier, err := l.load(n.Against, nil)
		if err != nil {
			return err
		}
		c := compare.Compare([]compare.Run{compare.Of(earlier, analysis.Options{LimitC: n.LimitC})}, []compare.Run{run}, compare.Options{})
		in.Earlier = &c
	}
	list := next.Of(in)
	if !n.JSON {
		return next.Write(e.out, list)
	}
	enc := json.NewEncoder(e.out)
	enc.SetIndent("", "  ")
	return enc.Encode(list)
}
