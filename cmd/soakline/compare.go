package main

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/analysis/text"
)

type compareCmd struct {
	A           string  `arg:"" name:"a" help:"What it is measured against: a trace file or a session, or several runs of one setup, with commas between."`
	B           string  `arg:"" name:"b" help:"What is held against it, in the same way."`
	JSON        bool    `name:"json" help:"Print the comparison as JSON (schema soakline.comparison/1)."`
	LimitC      float64 `name:"limit-c" help:"The die temperature that you will not exceed, in degC." placeholder:"DEGC"`
	Interleaved bool    `help:"The runs were taken in turn, A B A B: compare them pair by pair, which takes out what drifts with the hours."`
}

// Help is shown by 'soakline compare --help'.
func (compareCmd) Help() string {
	return `Example:
  soakline compare fan.csv plate.csv
  soakline compare 20261125-0742 last --json
  soakline compare fan-1.csv,fan-2.csv,fan-3.csv plate-1.csv,plate-2.csv,plate-3.csv`
}

// Run says what differs between two sets of runs.
func (x *compareCmd) Run(ctx context.Context, e *env, c *cli) error {
	l := loader{ctx: ctx, cli: c, env: e}
	defer l.close()
	a, err := x.runs(&l, x.A)
	if err != nil {
		return err
	}
	b, err := x.runs(&l, x.B)
	if err != nil {
		return err
	}
	if x.Interleaved && len(a) != len(b) {
		return usage(fmt.Errorf("--interleaved pairs the runs: A has %d and B has %d", len(a), len(b)))
	}
	result := compare.Compare(a, b, compare.Options{Interleaved: x.Interleaved})
	if !x.JSON {
		return text.Compare(e.out, result)
	}
	enc := json.NewEncoder(e.out)
	enc.SetIndent("", "  ")
	return enc.Encode(result)
}

// runs loads and analyses the runs of one side.
func (x *compareCmd) runs(l *loader, side string) ([]compare.Run, error) {
	var runs []compare.Run
	for _, name := range strings.Split(side, ",") {
		name = strings.TrimSpace(name)
		if name == "" {
			return nil, usage(fmt.Errorf("%q: a name is missing before or after a comma", side))
		}
		tr, err := l.load(name, nil)
		if err != nil {
			return nil, err
		}
		runs = append(runs, compare.Of(tr, analysis.Options{LimitC: x.LimitC}))
	}
	return runs, nil
}
