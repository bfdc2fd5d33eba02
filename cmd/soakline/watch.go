package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"time"

	"soakline/collector/archive"
	"soakline/collector/sampler"
	"soakline/collector/session"
	"soakline/collector/source/machine"
	"soakline/collector/source/replay"
	"soakline/collector/source/rig"
	"soakline/collector/telemetry"
	"soakline/server"
	"soakline/web"
)

type watchCmd struct {
	Listen string        `help:"Address of the page. The default is this computer alone." default:"127.0.0.1:7625" placeholder:"HOST:PORT"`
	LimitC float64       `name:"limit-c" help:"The die temperature that you will not exceed, in degC." placeholder:"DEGC"`
	Rig    string        `help:"Watch the simulated machine in this setup: ${rigs}." placeholder:"SETUP"`
	Replay string        `help:"Watch a recorded trace file instead of this machine." placeholder:"FILE"`
	Speed  float64       `help:"How fast the simulated machine or a replay runs, up to 100; 0 plays a replay as fast as it can." default:"1"`
	Period time.Duration `help:"Time between two samples." default:"100ms"`
	Keep   bool          `help:"Keep the session in the archive." default:"true" negatable:""`
	likeFlags
	feedFlags
	fromFlag
	Role roleFlags `help:"Give a channel a role, for instance die=\"cpu 0\"." placeholder:"ROLE=CHANNEL" sep:"none"`
}

// Help is shown by 'soakline watch --help'.
func (watchCmd) Help() string {
	return `Example:
  soakline watch --limit-c 90
  soakline watch --rig plate-remounted --speed 10
  soakline watch --replay plate.csv --speed 20
  soakline watch --from http://192.0.2.7:7625     (there: soakline watch --listen 0.0.0.0:7625)
  soakline watch --feed 'run: ./read-thermocouple' --feed 'serial: /dev/ttyUSB0'`
}

// Run shows the page until it is interrupted.
func (w *watchCmd) Run(ctx context.Context, e *env, c *cli) error {
	if err := web.Check(); err != nil {
		return usage(err)
	}
	if w.Speed < 0 || w.Speed > 100 {
		return usage(fmt.Errorf("--speed %g: expected 0 to 100", w.Speed))
	}
	if w.Speed == 0 && w.Replay == "" {
		return usage(errors.New("--speed 0 is for --replay: a simulated machine has no end to run to"))
	}
	if w.Period < 10*time.Millisecond || w.Period > time.Minute {
		return usage(fmt.Errorf("--period %v: expected 10ms to 1m", w.Period))
	}
	next, err := w.feed(ctx, e)
	if err != nil {
		return err
	}
	feeds, endFeeds, err := w.begin(ctx, e)
	if err != nil {
		return err
	}
	defer endFeeds()
	next = next.with(feeds)
	store, err := w.store(e, c)
	if err != nil {
		return err
	}
	if store != nil {
		defer store.Close()
	}
	ln, err := net.Listen("tcp", w.Listen)
	if err != nil {
		return fmt.Errorf("%w; choose another address with --listen, port 0 takes a free one", err)
	}
	fmt.Fprintf(e.out, "soakline shows http://%s/  (Ctrl-C ends it)\n", ln.Addr())
	if server.Reachable(ln.Addr()) {
		fmt.Fprintln(e.out, "Others on this network can look, over plain HTTP: what they see is not encrypted, and nothing keeps strangers out. Only a page on this computer can change anything.")
	}
	return w.show(ctx, e, ln, store, next)
}

// show runs one session after the other on one address; the next begins when another
// setup of the simulated machine is chosen, or a plan has been carried out.
func (w *watchCmd) show(ctx context.Context, e *env, ln net.Listener, store *archive.Store, f feed) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	front := &server.Front{}
	served := make(chan error, 1)
	go func() {
		defer cancel()
		served <- server.ServeFront(ctx, ln, front, e.log)
	}()
	chosen, asked := make(chan string, 1), make(chan planAsked, 1)
	var carried server.PlanControl
	limitC := w.LimitC
	for ctx.Err() == nil {
		b, err := f.open(ctx, e)
		if err != nil {
			return err
		}
		var last server.LastSession
		if store != nil {
			if last, err = w.apply(ctx, e, store, b.session); err != nil {
				b.sampler.Close()
				return err
			}
			b.keep(store)
		}
		announce(e, f, b)
		var kept server.Archive
		if store != nil {
			kept = store
		}
		srv := server.New(server.Config{
			Session: b.session, Page: web.Page(), Rig: rigControl(f, chosen), LimitC: limitC, Last: last, Archive: kept, Feed: pushTo(f.feeds), Self: selfOf(b.sampler, b.recorder),
			Plan: carried, StartPlan: planStarter(f, store, asked), Wide: server.Reachable(ln.Addr()), Log: e.log,
		})
		sayPush(e.out, f.feeds, ln.Addr(), srv.Token())
		withdraw := leaveNote(e, ln.Addr(), srv, b.session.Info().ID)
		name, next, err := w.one(ctx, front, srv, b, chosen, asked)
		withdraw()
		if err != nil {
			e.log.Error("session", "err", err)
		}
		limitC = srv.LimitC()
		if name != "" {
			f = rigFeed(name, w.Speed, w.Period, f.roles).with(f.feeds)
		}
		if next != nil {
			if k := w.carryOut(ctx, e, ln.Addr(), front, store, f, *next); k != nil {
				carried = k
			}
		}
	}
	return <-served
}

// one runs one session until ctx ends, another setup is chosen, whose name it gives, or a
// plan is asked for.
func (w *watchCmd) one(ctx context.Context, front *server.Front, srv *server.Server, b *bench, chosen <-chan string, asked <-chan planAsked) (name string, next *planAsked, err error) {
	mine, stop := context.WithCancel(ctx)
	defer stop()
	sampled := make(chan error, 1)
	shown := make(chan struct{})
	go func() { sampled <- b.run(mine) }()
	go func() { front.Show(mine, srv); close(shown) }()
	select {
	case <-ctx.Done():
	case name = <-chosen:
	case p := <-asked:
		next = &p
	}
	stop()
	<-shown
	return name, next, <-sampled
}

func (w *watchCmd) store(e *env, c *cli) (*archive.Store, error) {
	if !w.Keep || w.Replay != "" { // a replay is on the disk already
		return nil, nil
	}
	store, err := c.open(e)
	if err != nil {
		e.log.Error("sessions are not kept", "err", err)
		return nil, nil
	}
	return store, nil
}

// feed chooses what to watch: a trace, the simulated machine where asked for, else this
// machine, and the simulated one if this machine shows neither temperature nor power.
func (w *watchCmd) feed(ctx context.Context, e *env) (feed, error) {
	roles, err := w.Role.roles()
	if err != nil {
		return feed{}, err
	}
	if w.Replay != "" {
		tr, err := readTrace(w.Replay, roles)
		if err != nil {
			return feed{}, err
		}
		src := replay.New(tr)
		period := time.Duration(src.StepS() * float64(time.Second))
		return feed{origin: session.Replay, sources: []telemetry.Source{src}, clock: clock(w.Speed), period: period, roles: roles}, nil
	}
	if w.From != "" {
		return w.follow(ctx, e, roles)
	}
	if w.Rig != "" {
		if err := knownRig(w.Rig); err != nil {
			return feed{}, usage(err)
		}
		return rigFeed(w.Rig, w.Speed, w.Period, roles), nil
	}
	if len(w.Feed) > 0 { // measured, whatever else there is
		return machineFeed(w.Period, roles), nil
	}
	own := machineFeed(w.Period, roles)
	b, err := own.open(ctx, e)
	if err != nil {
		return feed{}, err
	}
	b.sampler.Close()
	if b.shows() {
		return machineFeed(w.Period, roles), nil
	}
	e.log.Warn("no temperature and no power can be read here: showing the SIMULATED machine; 'soakline channels' says what is missing and why")
	return rigFeed("", w.Speed, w.Period, nil), nil
}

// announce tells in the terminal what is being watched.
func announce(e *env, f feed, b *bench) {
	info := b.session.Info()
	switch {
	case f.origin == session.Rig:
		fmt.Fprintf(e.out, "SIMULATED: %s; session %s\n", rig.Device, info.ID)
	default:
		fmt.Fprintf(e.out, "watching %d channels; session %s\n", len(b.found.Channels), info.ID)
	}
	if b.recorder == nil {
		fmt.Fprintln(e.out, "this session is not kept on the disk")
	}
	for _, m := range b.found.Missing {
		if m.Role == telemetry.RolePower || m.Role == telemetry.RoleDie {
			fmt.Fprintf(e.out, "missing: %s: %s. %s\n", m.Name, m.Reason, m.Remedy)
		}
	}
}

func machineFeed(period time.Duration, roles map[telemetry.Role]string) feed {
	return feed{origin: session.Live, sources: machine.Sources("/"), clock: sampler.Real(), period: period, roles: roles}
}

var errSetup = errors.New("no such setup of the simulated machine")
