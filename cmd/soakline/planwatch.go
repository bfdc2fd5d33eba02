package main

import (
	"context"
	"errors"
	"net"
	"strings"
	"time"

	"soakline/collector/archive"
	"soakline/collector/plan"
	"soakline/collector/session"
	"soakline/collector/source/rig"
	"soakline/server"
)

// planAsked is a plan that the page asked for while a machine is watched.
type planAsked struct {
	plan   *plan.Plan
	limitC float64 // 0: none named
}

// planStarter lets the page begin a plan; nil where a recording or another computer is
// watched, or nothing is kept.
func planStarter(f feed, store *archive.Store, asked chan<- planAsked) server.PlanStart {
	if store == nil || f.host != "" || f.origin != session.Live && f.origin != session.Rig {
		return nil
	}
	return func(p *plan.Plan, limitC float64) error {
		select {
		case asked <- planAsked{p, limitC}:
			return nil
		default:
			return errors.New("a plan is about to begin")
		}
	}
}

// carryOut carries a plan out on the page's address in the place of the session that was
// watched, and gives it back for what it has to say afterwards.
func (w *watchCmd) carryOut(ctx context.Context, e *env, at net.Addr, front *server.Front, store *archive.Store, f feed, asked planAsked) *planner {
	r := &planRunCmd{Plan: asked.plan.Name, LimitC: asked.limitC, Speed: w.Speed, Period: min(w.Period, 50*time.Millisecond), From: 1, Role: w.Role}
	if f.origin == session.Rig {
		r.Rig = f.sources[0].(*rig.Source).Selected().Name
	}
	run, screen, err := r.prepare(e, asked.plan, store, f.feeds)
	if err != nil {
		e.log.Error("the plan cannot be carried out", "plan", asked.plan.Name, "err", err)
		return nil
	}
	run.front, run.address, screen.page = front, at, true
	describe(e, asked.plan)
	screen.tell(cautions, false)
	if err := run.shown(ctx, screen, strings.NewReader("")); err != nil {
		e.log.Error("plan", "name", asked.plan.Name, "err", err)
	}
	return run.planner
}
