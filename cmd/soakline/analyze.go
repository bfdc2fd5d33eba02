package main

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"soakline/analysis"
	"soakline/analysis/text"
)

type analyzeCmd struct {
	Trace         string        `arg:"" name:"file-or-session" help:"A trace file, a session's id or its unique beginning, or 'last'."`
	JSON          bool          `name:"json" help:"Print the result as JSON (schema soakline.analysis/1)."`
	Until         float64       `help:"Analyse only what was known by then, in seconds, as the live view would have." placeholder:"SECONDS"`
	LimitC        float64       `name:"limit-c" help:"The die temperature that you will not exceed, in degC." placeholder:"DEGC"`
	Earlier       []string      `help:"Earlier traces of the same machine, as prior knowledge of its thermal path." placeholder:"FILE-OR-SESSION"`
	Role          roleFlags     `help:"Give a channel a role, for instance die=\"cpu 0\"." placeholder:"ROLE=CHANNEL" sep:"none"`
	Job           time.Duration `help:"Ask whether a longer burst window would carry a load of this length, and how hot that gets." placeholder:"45s"`
	Detail        bool          `help:"Add impedance, time-constant spectrum, ladder and structure function to the JSON."`
	IgnoreReasons bool          `help:"Infer what held the chip back even where the hardware itself says so."`
}

// Help is shown by 'soakline analyze --help'.
func (analyzeCmd) Help() string {
	return `Example:
  soakline analyze last --limit-c 90
  soakline analyze plate.csv --json --earlier fan.csv
  soakline analyze last --job 45s

Where a liquid loop is measured (flow, and the coolant before and after the cold plate), the
setup key "coolant" names the liquid: water, or "30 % propylene glycol", by mass.`
}

// Run analyses one trace and prints the sentences or the JSON.
func (a *analyzeCmd) Run(ctx context.Context, e *env, c *cli) error {
	roles, err := a.Role.roles()
	if err != nil {
		return err
	}
	l := loader{ctx: ctx, cli: c, env: e}
	defer l.close()
	tr, err := l.load(a.Trace, roles)
	if err != nil {
		return err
	}
	o := analysis.Options{LimitC: a.LimitC, UntilS: a.Until, IgnoreReasons: a.IgnoreReasons, JobS: a.Job.Seconds(), Detail: a.Detail}
	for _, name := range a.Earlier {
		earlier, err := l.load(name, nil)
		if err != nil {
			return fmt.Errorf("earlier trace: %w", err)
		}
		o.Earlier = append(o.Earlier, analysis.Analyze(earlier, analysis.Options{LimitC: a.LimitC}))
	}
	result := analysis.Analyze(tr, o)
	if !a.JSON {
		return text.Write(e.out, result)
	}
	enc := json.NewEncoder(e.out)
	enc.SetIndent("", "  ")
	return enc.Encode(result)
}
