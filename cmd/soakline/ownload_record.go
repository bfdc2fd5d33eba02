package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"soakline/collector/load/spec"
	"soakline/collector/plan"
	"soakline/collector/telemetry"
)

// own records soakline's own load between a rest and a cooling: a plan of one run.
func (r *recordCmd) own(ctx context.Context, e *env, c *cli, setup []telemetry.Setting) error {
	l, err := spec.Parse(r.OwnLoad)
	switch {
	case err != nil:
		return usage(fmt.Errorf("--own-load: %w", err))
	case len(r.command()) > 0:
		return usage(errors.New("--own-load and a command are two loads; take one"))
	case r.For <= 0:
		return usage(errors.New("--own-load needs --for: how long the load runs"))
	case r.From != "":
		return usage(errors.New("--own-load works on this computer; --from watches another one"))
	}
	run := &planRunCmd{Plan: "own load", LimitC: r.LimitC, Rig: r.Rig, Speed: 1, Period: r.Period, From: 1, Yes: true,
		likeFlags: r.likeFlags, feedFlags: r.feedFlags, Role: r.Role, said: setup}
	return run.carry(ctx, e, c, ownPlan(l, r.Rest, r.For, r.Cool))
}

// ownPlan is a rest, a load and a cooling.
func ownPlan(l spec.Load, rest, load, cool time.Duration) *plan.Plan {
	p := &plan.Plan{Name: "own load", Runs: 1, Rounds: 1, Order: plan.InTurn}
	for _, ph := range []plan.Phase{
		{Kind: plan.Rest, For: rest},
		{Kind: plan.Load, For: load, Work: &plan.Work{Own: l.Name(), Cores: l.Cores, DutyPct: 100, Cycle: l.Cycle}},
		{Kind: plan.Cool, For: cool},
	} {
		if ph.For > 0 {
			p.Phases = append(p.Phases, ph)
		}
	}
	return p
}
