package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"text/tabwriter"
	"time"

	"soakline/analysis"
	"soakline/analysis/stats"
	"soakline/collector/sampler"
	"soakline/collector/telemetry"
)

// leastPhase is the shortest phase of a cost measurement that can settle at all.
const leastPhase = 10 * time.Second

// measureCost takes turns of watching and not watching and prints what each group and the
// whole cost, and what that adds to the machine's power and temperature.
func measureCost(ctx context.Context, e *env, f feed, sources func() []telemetry.Source, phase time.Duration, count int, asJSON bool) error {
	if phase < leastPhase || count < 2 {
		return usage(fmt.Errorf("--cost %v --turns %d: phases of at least %v and two turns are needed, for instance --cost 2m", phase, count, leastPhase))
	}
	meter, err := openMeter(ctx, sources(), f.roles)
	if err != nil {
		return err
	}
	defer meter.close()
	fmt.Fprintf(e.errOut, "measuring for %v; leave the machine alone, without load\n", time.Duration(2*count)*phase)
	var costs []sampler.Cost
	own := map[bool][]float64{} // CPU share by watching
	clock, watching, first := ownMeter{}, false, true
	start := time.Now()
	t := turns{meter: meter, pause: pauseFor, now: func() time.Duration { return time.Since(start) },
		watch: func(ctx context.Context, length time.Duration) (err error) {
			costs, err = watchFor(ctx, e, f, sources, length)
			return err
		},
		say: func(turn int, on bool) {
			if self := clock.self(time.Now()); !first {
				own[watching] = append(own[watching], self.CPUShare)
			}
			watching, first = on, false
			fmt.Fprintf(e.errOut, "turn %d of %d: %s\n", turn+1, count, map[bool]string{false: "not watching", true: "watching"}[on])
		}}
	r, err := t.run(ctx, count, phase)
	if err != nil {
		return err
	}
	own[watching] = append(own[watching], clock.self(time.Now()).CPUShare)
	report := newCostReport(r, costs, stats.Mean(own[true])-stats.Mean(own[false]), meter.name())
	if asJSON {
		enc := json.NewEncoder(e.out)
		enc.SetIndent("", "  ")
		return enc.Encode(report)
	}
	return report.print(e)
}

// watchFor samples all sources as 'soakline watch' does, without page and archive.
func watchFor(ctx context.Context, e *env, f feed, sources func() []telemetry.Source, length time.Duration) ([]sampler.Cost, error) {
	f.sources, f.clock = sources(), sampler.Real()
	b, err := f.open(ctx, e)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, length)
	defer cancel()
	err = b.run(ctx)
	return b.sampler.Costs(), err
}

func pauseFor(ctx context.Context, d time.Duration) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(d):
		return nil
	}
}

// costReport is what the verb prints.
type costReport struct {
	Groups []groupCost `json:"groups"`
	// CPUPct is the program's own share of one core while watching, above not watching.
	CPUPct    analysis.Number      `json:"cpu_pct"`
	AddsW     analysis.Number      `json:"adds_w"`
	LowW      analysis.Number      `json:"adds_low_w"`
	HighW     analysis.Number      `json:"adds_high_w"`
	AddsK     analysis.Number      `json:"adds_k"`
	LowK      analysis.Number      `json:"adds_low_k"`
	HighK     analysis.Number      `json:"adds_high_k"`
	Channel   string               `json:"power_channel"`
	Turns     int                  `json:"turns"`
	PhaseS    float64              `json:"phase_s"`
	PhasesW   [][2]analysis.Number `json:"phases_w"` // by turn: not watching, watching
	why, whyK string
}

type groupCost struct {
	Group    string  `json:"group"`
	Source   string  `json:"source"`
	Channels int     `json:"channels"`
	ReadUs   float64 `json:"read_us"`
	PerS     float64 `json:"reads_per_s"`
	BusyPct  float64 `json:"busy_pct"` // of the time a read was under way
}

func newCostReport(r watchCost, costs []sampler.Cost, cpu float64, channel string) costReport {
	c := costReport{CPUPct: analysis.Number(cpu), Channel: channel, Turns: r.Turns, PhaseS: r.Phase.Seconds(), Groups: []groupCost{}}
	c.AddsW, c.LowW, c.HighW = interval(r.Watts)
	c.AddsK, c.LowK, c.HighK = interval(r.Kelvin)
	for _, p := range r.PhaseWatts {
		c.PhasesW = append(c.PhasesW, [2]analysis.Number{analysis.Number(p[0]), analysis.Number(p[1])})
	}
	for _, g := range costs {
		per := float64(g.Reads) / r.Phase.Seconds()
		us := float64(g.Median) / float64(time.Microsecond)
		c.Groups = append(c.Groups, groupCost{g.Group, g.Source, g.Channels, us, per, per * us / 1e4})
	}
	switch {
	case math.IsNaN(r.Kelvin.Diff):
		c.whyK = "no die temperature was readable throughout"
	case r.Step == 0:
		c.whyK = "the die's reading did not move at all: its step is coarser than what watching adds"
	}
	switch {
	case channel == "":
		c.why = "this machine shows no energy counter and no power"
	case !told(r.Watts):
		c.why = "the power was not readable throughout"
	}
	return c
}

func interval(d stats.Difference) (value, low, high analysis.Number) {
	l, h := d.Interval(costLevel)
	return analysis.Number(d.Diff), analysis.Number(l), analysis.Number(h)
}

func (c costReport) print(e *env) error {
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "GROUP\tSOURCE\tCHANNELS\tA READ TAKES\tREADS\tUNDER WAY")
	for _, g := range c.Groups {
		fmt.Fprintf(w, "%s\t%s\t%d\t%.0f us\t%.2g /s\t%.3f %% of the time\n", plain(g.Group), g.Source, g.Channels, g.ReadUs, g.PerS, g.BusyPct)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(e.out, "\nThe whole program takes %.2f %% of one core for it.\n", float64(c.CPUPct))
	for i, p := range c.PhasesW {
		if c.why == "" {
			fmt.Fprintf(e.out, "turn %d: %.3f W not watching, %.3f W watching\n", i+1, float64(p[0]), float64(p[1]))
		}
	}
	if c.why != "" {
		fmt.Fprintf(e.out, "What watching adds to the power: undetermined, because %s.\n", c.why)
	} else {
		fmt.Fprintf(e.out, "Watching adds %s, by %s over %d turns of twice %g s.\n",
			words(c.AddsW, c.LowW, c.HighW, "W"), plain(c.Channel), c.Turns, c.PhaseS)
	}
	if c.whyK != "" {
		fmt.Fprintf(e.out, "What watching adds to the temperature: undetermined, because %s.\n", c.whyK)
		return nil
	}
	fmt.Fprintf(e.out, "Watching adds %s, by the die's temperature in the last quarter of each phase.\n", words(c.AddsK, c.LowK, c.HighK, "K"))
	return nil
}

// words gives a difference with its interval, and says where that holds zero.
func words(v, low, high analysis.Number, unit string) string {
	text := fmt.Sprintf("%.2f %s (%.2f to %.2f, 90 %%)", float64(v), unit, float64(low), float64(high))
	if low <= 0 && high >= 0 {
		text += " and cannot be told from nothing"
	}
	return text
}
