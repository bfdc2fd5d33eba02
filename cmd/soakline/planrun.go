package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"slices"
	"strings"
	"time"

	"soakline/collector/archive"
	"soakline/collector/plan"
	"soakline/collector/session"
	lines "soakline/collector/source/feed"
	"soakline/collector/source/rig"
	"soakline/collector/source/workdone"
	"soakline/collector/telemetry"
	"soakline/server"
	"soakline/server/wire"
	"soakline/web"
)

type planRunCmd struct {
	Plan   string        `arg:"" help:"A plan file, or the name of a plan that comes with soakline ('soakline plan list')."`
	LimitC float64       `name:"limit-c" help:"The die temperature above which a load is ended, in degC (default: 5 K below the limit that the machine reports)." placeholder:"DEGC"`
	Rig    string        `help:"Run the plan on the simulated machine in this setup: ${rigs}." placeholder:"SETUP"`
	Speed  float64       `help:"How fast the simulated machine runs, up to 100; 0 is as fast as it can." default:"1"`
	Period time.Duration `help:"Time between two samples. With 50ms a load ends within 0.1 s of passing the limit." default:"50ms"`
	From   int           `help:"Go on with this run of the plan, after the machine was switched off for another setup." default:"1" placeholder:"N"`
	Yes    bool          `help:"Answer every question as the plan expects, without waiting."`
	Page   bool          `help:"Show the page meanwhile." default:"true" negatable:""`
	Listen string        `help:"Address of the page." default:"127.0.0.1:7625" placeholder:"HOST:PORT"`
	likeFlags
	feedFlags
	Role roleFlags `help:"Give a channel a role, for instance die=\"cpu 0\"." placeholder:"ROLE=CHANNEL" sep:"none"`

	said []telemetry.Setting // conditions of every run, from the command line
}

// Help is shown by 'soakline plan run --help'.
func (planRunCmd) Help() string {
	return `Example:
  soakline plan run contact-check --limit-c 90
  soakline plan run plate-trial.yaml
  soakline plan run plate-trial.yaml --from 3
  soakline plan run contact-check --rig plate-first --speed 20

While it runs: ` + keys + `.`
}

// Run carries the plan out, one session a run.
func (r *planRunCmd) Run(ctx context.Context, e *env, c *cli) error {
	p, err := readPlan(r.Plan)
	if err != nil {
		return err
	}
	return r.carry(ctx, e, c, p)
}

// carry carries a plan out.
func (r *planRunCmd) carry(ctx context.Context, e *env, c *cli, p *plan.Plan) error {
	if err := r.check(p); err != nil {
		return usage(err)
	}
	store, err := c.open(e)
	if err != nil {
		return err
	}
	defer store.Close()
	feeds, endFeeds, err := r.begin(ctx, e)
	if err != nil {
		return err
	}
	defer endFeeds()
	run, screen, err := r.prepare(e, p, store, feeds)
	if err != nil {
		return err
	}
	describe(e, p)
	fmt.Fprintf(e.out, "\n%s\n%s\n", cautions, keys)
	shut := run.show(ctx)
	defer shut()
	screen.yes, screen.page = r.Yes, run.front != nil
	return run.shown(ctx, screen, os.Stdin)
}

// prepare gets a plan ready to be carried out.
func (r *planRunCmd) prepare(e *env, p *plan.Plan, store *archive.Store, feeds []*lines.Source) (*planBench, *terminal, error) {
	k := newPlanner(p, r.From, r.LimitC)
	f, machine, err := r.feed(k)
	if err != nil {
		return nil, nil, err
	}
	screen := newTerminal(e.out)
	k.tell = screen.tell
	k.begin = func(w *plan.Work) (planLoad, error) { return r.start(e, machine, w) }
	return &planBench{cmd: r, env: e, planner: k, store: store, feed: f.with(feeds), machine: machine}, screen, nil
}

// shown carries the plan out with its progress in the terminal.
func (b *planBench) shown(ctx context.Context, screen *terminal, in io.Reader) error {
	drawing, stop := context.WithCancel(context.Background())
	drawn := make(chan struct{})
	go func() { screen.run(drawing, b.planner, in); close(drawn) }()
	err := b.all(ctx)
	stop()
	<-drawn
	b.report()
	return err
}

func (r *planRunCmd) check(p *plan.Plan) error {
	switch {
	case r.LimitC != 0 && (r.LimitC < 20 || r.LimitC > 150):
		return fmt.Errorf("--limit-c %g: expected 20 to 150", r.LimitC)
	case r.Speed < 0 || r.Speed > 100:
		return fmt.Errorf("--speed %g: expected 0 to 100", r.Speed)
	case r.Speed != 1 && r.Rig == "":
		return errors.New("--speed is for the simulated machine; name it with --rig")
	case r.Period < 10*time.Millisecond || r.Period > time.Second:
		return fmt.Errorf("--period %v: expected 10ms to 1s, so that a load can be ended in time", r.Period)
	case r.From < 1 || r.From > p.Total():
		return fmt.Errorf("--from %d: the plan has runs 1 to %d", r.From, p.Total())
	}
	if _, command := p.Loads(); command && r.Rig != "" && r.Speed != 1 {
		return errors.New("the plan runs a command, which needs real time: --speed 1")
	}
	return nil
}

// feed is this machine with the throughput of the plan's own load, or the simulated
// machine, whose own schedule of loads is left out.
func (r *planRunCmd) feed(k *planner) (feed, *rig.Source, error) {
	roles, err := r.Role.roles()
	if err != nil {
		return feed{}, nil, err
	}
	if r.Rig == "" {
		f := machineFeed(r.Period, roles)
		if own, _ := k.plan.Loads(); own {
			f.sources = append(slices.Clone(f.sources), workdone.New(kindsOf(k.plan), k.count.work))
		}
		return f, nil, nil
	}
	if err := knownRig(r.Rig); err != nil {
		return feed{}, nil, usage(err)
	}
	cfg := rig.Default()
	cfg.Selected, cfg.Plan = r.Rig, rig.Plan{}
	src, err := rig.New(cfg)
	if err != nil {
		return feed{}, nil, err
	}
	return feed{origin: session.Rig, sources: []telemetry.Source{src}, clock: clock(r.Speed), period: r.Period, roles: roles}, src, nil
}

// start begins a load: the simulated machine's, the user's command, or soakline's own.
func (r *planRunCmd) start(e *env, machine *rig.Source, w *plan.Work) (planLoad, error) {
	switch {
	case len(w.Command) > 0:
		return startCommand(e, w.Command)
	case machine != nil:
		machine.SetLoad(w.DutyPct / 100)
		return rigLoad{machine}, nil
	}
	return startOwn(w)
}

// planBench carries the runs of a plan out one after the other.
type planBench struct {
	cmd     *planRunCmd
	env     *env
	planner *planner
	store   *archive.Store
	feed    feed
	machine *rig.Source         // nil on a real machine
	front   *server.Front       // nil without the page
	address net.Addr            // of the page
	setup   []telemetry.Setting // of the run before
	done    []string
}

// all makes every run that is left.
func (b *planBench) all(ctx context.Context) error {
	k := b.planner
	for {
		turn := k.turns[k.turn]
		notes, ok, err := b.putIn(ctx, turn)
		if err != nil || !ok {
			k.end("stopped by the user")
			return err
		}
		why, goOn, err := b.one(ctx, turn, notes)
		if err != nil {
			k.end(err.Error())
			return err
		}
		if goOn && ctx.Err() == nil {
			continue
		}
		k.end(why)
		if strings.HasPrefix(why, "ended early") || why == "the recording ended" {
			return errors.New(b.reason(why))
		}
		return nil
	}
}

func (b *planBench) reason(why string) string {
	if s := b.planner.State(); s.Ended != "" {
		return s.Ended
	}
	return why
}

// putIn asks for the setup of a run where it differs from the one before; the simulated
// machine is put together without asking.
func (b *planBench) putIn(ctx context.Context, t plan.Turn) (notes []telemetry.Setting, ok bool, err error) {
	if t.Setup == nil || !t.Change {
		return nil, true, nil
	}
	if b.machine != nil && knownRig(t.Setup.Name) == nil {
		return nil, true, b.machine.Select(t.Setup.Name)
	}
	words := inWords(t.Setup)
	text := fmt.Sprintf("Run %d of %d: put in setup %s. Has the machine to be switched off for it? Then stop with q, and go on with: soakline plan run %s --from %d. "+
		"When it is in: what changed (key=value, key=value; Enter alone: as the plan says)?", t.Number, b.planner.plan.Total(), words, b.cmd.Plan, t.Number)
	b.planner.tell(text, false)
	q := wire.PlanQuestion{Text: text, Setup: &t.Setup.Name, Settings: []wire.Setting{}}
	for _, kv := range t.Setup.Settings {
		q.Settings = append(q.Settings, wire.Setting(kv))
	}
	answer, ok := b.planner.ask(ctx, q)
	return changes(answer), ok, nil
}

// changes reads "paste = new, fan = 2": what is no pair is kept as what changed.
func changes(answer string) (out []telemetry.Setting) {
	for part := range strings.SplitSeq(answer, ",") {
		key, value, pair := strings.Cut(part, "=")
		switch part = strings.TrimSpace(part); {
		case pair && strings.TrimSpace(key) != "":
			out = append(out, telemetry.Setting{Key: strings.TrimSpace(key), Value: strings.TrimSpace(value)})
		case part != "":
			out = append(out, telemetry.Setting{Key: "changed", Value: part})
		}
	}
	return out
}

// one records one run.
func (b *planBench) one(ctx context.Context, t plan.Turn, notes []telemetry.Setting) (why string, goOn bool, err error) {
	run, err := b.feed.open(ctx, b.env)
	if err != nil {
		return "", false, err
	}
	own, _ := b.planner.plan.Loads()
	if own && telemetry.IndexOf(run.found.Channels, telemetry.RoleDie) < 0 && len(b.feed.feeds) == 0 {
		run.sampler.Close()
		return "", false, errors.New("no die temperature can be read here, and soakline's own load does not run without one; 'soakline channels' says what is missing and why")
	}
	if err := b.conditions(ctx, run.session, t, notes); err != nil {
		run.sampler.Close()
		return "", false, err
	}
	run.keep(b.store)
	sampling, over := context.WithCancel(context.Background())
	defer over()
	shown := b.put(sampling, run)
	b.planner.enter(run.session, over)
	go b.interrupt(ctx, sampling, over)
	err = run.runInto(sampling, planSink{run.session, b.planner})
	over()
	<-shown
	b.setup = run.session.Setup()
	why, goOn = b.planner.leave()
	line := fmt.Sprintf("run %d: session %s, %s", t.Number, run.session.Info().ID, why)
	if t.Setup != nil {
		line += ", setup " + t.Setup.Name
	}
	b.done = append(b.done, line)
	return why, goOn, err
}

// conditions writes the setup of a run: what was said in the run before stands, but for
// what belongs to a setup; then the setup's own, then what the user says has changed.
func (b *planBench) conditions(ctx context.Context, s *session.Session, t plan.Turn, notes []telemetry.Setting) error {
	var set []telemetry.Setting
	if b.setup == nil {
		if _, err := b.cmd.apply(ctx, b.env, b.store, s); err != nil {
			return err
		}
	} else {
		for _, kv := range session.TakeOver(b.setup, s.Setup()) {
			if !b.planner.plan.Sets(kv.Key) {
				set = append(set, kv)
			}
		}
	}
	if t.Setup != nil {
		set = append(set, t.Setup.Settings...)
		if len(t.Setup.Settings) == 0 && b.machine == nil {
			set = append(set, telemetry.Setting{Key: "setup", Value: t.Setup.Name})
		}
	}
	for _, kv := range slices.Concat(set, b.cmd.said, notes) {
		if err := s.SetSetting(kv.Key, kv.Value); err != nil {
			return usage(err)
		}
	}
	return nil
}

// interrupt stops the plan when ctx ends: in good order with the next row, without one
// after a second.
func (b *planBench) interrupt(ctx, sampling context.Context, over context.CancelFunc) {
	select {
	case <-sampling.Done():
		return
	case <-ctx.Done():
	}
	b.planner.Do(server.PlanStop, "")
	select {
	case <-sampling.Done():
	case <-time.After(time.Second):
		over()
	}
}

// show listens for the page; without one the plan runs all the same.
func (b *planBench) show(ctx context.Context) (shut func()) {
	if !b.cmd.Page {
		return func() {}
	}
	if err := web.Check(); err != nil {
		fmt.Fprintf(b.env.errOut, "without the page: %v\n", err)
		return func() {}
	}
	ln, err := net.Listen("tcp", b.cmd.Listen)
	if err != nil {
		fmt.Fprintf(b.env.errOut, "without the page: %v; choose another address with --listen\n", err)
		return func() {}
	}
	fmt.Fprintf(b.env.out, "the page shows http://%s/\n", ln.Addr())
	b.front, b.address = &server.Front{}, ln.Addr()
	serving, stop := context.WithCancel(context.WithoutCancel(ctx))
	served := make(chan struct{})
	go func() { server.ServeFront(serving, ln, b.front, b.env.log); close(served) }()
	return func() { stop(); <-served }
}

// put shows a run on the page until ctx ends, and lets 'mark', 'setup' and 'score' find it.
func (b *planBench) put(ctx context.Context, run *bench) (shown chan struct{}) {
	shown = make(chan struct{})
	if b.front == nil {
		end := reachable(b.env, run.session, run.feeds)
		go func() { <-ctx.Done(); end(); close(shown) }()
		return shown
	}
	srv := server.New(server.Config{Session: run.session, Page: web.Page(), Plan: b.planner, LimitC: b.planner.limitC, Archive: b.store,
		Feed: pushTo(run.feeds), Self: selfOf(run.sampler, run.recorder), Wide: server.Reachable(b.address), Log: b.env.log})
	withdraw := leaveNote(b.env, b.address, srv, run.session.Info().ID)
	go func() { b.front.Show(ctx, srv); withdraw(); close(shown) }()
	return shown
}

// report lists the sessions that the plan has left.
func (b *planBench) report() {
	if s := b.planner.State(); s.Ended != "" {
		fmt.Fprintf(b.env.out, "plan %s: %s\n", s.Name, s.Ended)
	}
	for _, line := range b.done {
		fmt.Fprintln(b.env.out, line)
	}
	if len(b.done) > 0 {
		fmt.Fprintln(b.env.out, "what they show: soakline analyze SESSION")
	}
}
