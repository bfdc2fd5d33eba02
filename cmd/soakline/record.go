package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"strings"
	"time"

	"soakline/analysis"
	"soakline/analysis/say"
	"soakline/collector/session"
	"soakline/collector/telemetry"
)

type recordCmd struct {
	For    time.Duration `help:"How long to record; with a command, the longest that it may run." placeholder:"5m"`
	Rest   time.Duration `help:"Rest to record before the command starts: what the machine is like unloaded." default:"10s"`
	Cool   time.Duration `help:"Cooling to record after the command ends." default:"10s"`
	Rig    string        `help:"Record the simulated machine in this setup: ${rigs}." placeholder:"SETUP"`
	LimitC float64       `name:"limit-c" help:"The die temperature that you will not exceed, in degC." placeholder:"DEGC"`
	Period time.Duration `help:"Time between two samples." default:"100ms"`
	Setup  []string      `help:"A condition of this run, for instance paste=re-applied." placeholder:"KEY=VALUE" sep:"none"`
	Role   roleFlags     `help:"Give a channel a role, for instance die=\"cpu 0\"." placeholder:"ROLE=CHANNEL" sep:"none"`
	likeFlags
	scoreFlags
	feedFlags
	fromFlag
	OwnLoad string   `help:"Run soakline's own load for the time of --for: integer, floating-point, vector, memory or several joined by +, then :all or a number of processors." placeholder:"vector:all"`
	Command []string `arg:"" optional:"" passthrough:"" help:"Your own load, after '--'; its output passes through."`
}

// Help is shown by 'soakline record --help'.
func (recordCmd) Help() string {
	return `Example:
  soakline record --for 10m
  soakline record --for 5m --own-load vector:all --limit-c 90
  soakline record --for 5m --setup cooler="plate, mounted again" -- make -j8
  soakline record --setup-like last --score 'Total: ([0-9.]+) (points)' --score-better higher -- ./load.sh`
}

// Run records until the time is over, the command has ended, or it is interrupted.
// A command's exit status becomes soakline's own.
func (r *recordCmd) Run(ctx context.Context, e *env, c *cli) error {
	setup, err := pairs(r.Setup)
	if err != nil {
		return err
	}
	if r.OwnLoad != "" {
		return r.own(ctx, e, c, setup)
	}
	if _, err := r.pattern(); err != nil {
		return err
	}
	f, err := r.feed(ctx, e)
	if err != nil {
		return err
	}
	feeds, endFeeds, err := r.begin(ctx, e)
	if err != nil {
		return err
	}
	defer endFeeds()
	f = f.with(feeds)
	store, err := c.open(e)
	if err != nil {
		return err
	}
	defer store.Close()
	b, err := f.open(ctx, e)
	if err != nil {
		return err
	}
	if len(b.found.Channels) == 0 && len(feeds) == 0 {
		b.sampler.Close()
		return errNothing
	}
	for _, s := range setup {
		if err := b.session.SetSetting(s.Key, s.Value); err != nil {
			return usage(err)
		}
	}
	if _, err := r.apply(ctx, e, store, b.session); err != nil {
		b.sampler.Close()
		return err
	}
	b.keep(store)
	fmt.Fprintf(e.errOut, "recording %d channels as session %s\n", len(b.found.Channels), b.session.Info().ID)
	status, err := r.record(ctx, e, b)
	if err != nil {
		return err
	}
	r.report(e, b.session)
	if status != 0 {
		return statusError{status, nil}
	}
	return nil
}

func (r *recordCmd) feed(ctx context.Context, e *env) (feed, error) {
	roles, err := r.Role.roles()
	if err != nil {
		return feed{}, err
	}
	if r.From != "" {
		return r.follow(ctx, e, roles)
	}
	if r.Rig == "" {
		return machineFeed(r.Period, roles), nil
	}
	if err := knownRig(r.Rig); err != nil {
		return feed{}, usage(err)
	}
	return rigFeed(r.Rig, 1, r.Period, roles), nil
}

// record samples around the command, or for the time given.
func (r *recordCmd) record(ctx context.Context, e *env, b *bench) (status int, err error) {
	sampling, stop := context.WithCancel(ctx)
	defer stop()
	done := make(chan error, 1)
	go func() { done <- b.run(sampling) }()
	defer reachable(e, b.session, b.feeds)()
	if cmd := r.command(); len(cmd) > 0 {
		fmt.Fprintf(e.errOut, "resting %v before the load\n", r.Rest)
		pause(ctx, r.Rest)
		if ctx.Err() == nil {
			status = r.load(ctx, e, b.session, cmd)
			fmt.Fprintf(e.errOut, "cooling %v\n", r.Cool)
			pause(ctx, r.Cool)
		}
	} else if r.For > 0 {
		pause(ctx, r.For)
	} else {
		fmt.Fprintln(e.errOut, "recording until Ctrl-C")
		<-ctx.Done()
	}
	stop()
	return status, <-done
}

// command is the user's load without a leading "--".
func (r *recordCmd) command() []string {
	if len(r.Command) > 0 && r.Command[0] == "--" {
		return r.Command[1:]
	}
	return r.Command
}

// load runs the command and marks its start and its end. Interrupted or over its time,
// it is asked to end and, five seconds later, ended.
func (r *recordCmd) load(ctx context.Context, e *env, s *session.Session, argv []string) (status int) {
	if r.For > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, r.For)
		defer cancel()
	}
	cmd := exec.CommandContext(ctx, argv[0], argv[1:]...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = os.Stdin, e.out, e.errOut
	score := r.listen(e, cmd)
	cmd.Cancel = func() error { return interrupt(cmd.Process) }
	cmd.WaitDelay = 5 * time.Second
	mark(s, "load starts: "+strings.Join(argv, " "))
	began := time.Now()
	err := cmd.Run()
	took := time.Since(began).Seconds()
	score(s)
	switch {
	case ctx.Err() != nil && errors.Is(ctx.Err(), context.DeadlineExceeded):
		mark(s, fmt.Sprintf("load ended by soakline after %.1f s, the time given", took))
		return 0
	case cmd.ProcessState == nil:
		mark(s, "load did not start: "+err.Error())
		fmt.Fprintln(e.errOut, "soakline:", err)
		return 127
	}
	status = cmd.ProcessState.ExitCode()
	mark(s, fmt.Sprintf("load ends: %s after %.1f s", cmd.ProcessState, took))
	if status < 0 { // ended by a signal
		status = exitFailure
	}
	return status
}

// listen looks for the score in the command's output, where a pattern was given. The
// function that it gives notes the score when the command has ended.
func (r *recordCmd) listen(e *env, cmd *exec.Cmd) func(*session.Session) {
	pattern, err := r.pattern()
	if pattern == nil || err != nil {
		return func(*session.Session) {}
	}
	f := &scoreFinder{flags: r.scoreFlags, pattern: pattern}
	out, errOut := &lineWriter{finder: f}, &lineWriter{finder: f}
	cmd.Stdout, cmd.Stderr = io.MultiWriter(cmd.Stdout, out), io.MultiWriter(cmd.Stderr, errOut)
	return func(s *session.Session) {
		out.flush()
		errOut.flush()
		if f.found == nil {
			fmt.Fprintf(e.errOut, "no line of the output fits --score %q: no score is kept; 'soakline score' can add it\n", r.Score)
			return
		}
		sc, err := s.AddScore(*f.found)
		if err != nil {
			fmt.Fprintln(e.errOut, "soakline:", err)
			return
		}
		fmt.Fprintln(e.errOut, scoreWords(sc))
	}
}

// report says what the session shows, in the sentences of the page.
func (r *recordCmd) report(e *env, s *session.Session) {
	line := say.Of(analysis.Analyze(s.Trace(), analysis.Options{LimitC: r.LimitC}))
	fmt.Fprintf(e.errOut, "%s\nsoakline analyze %s says more\n", line.Text, s.Info().ID)
}

func mark(s *session.Session, text string) {
	s.Mark(telemetry.Mark{At: math.NaN(), Kind: telemetry.MarkCommand, Text: text})
}

// pause waits for d or until ctx ends.
func pause(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}

// pairs reads key=value settings.
func pairs(args []string) ([]telemetry.Setting, error) {
	var out []telemetry.Setting
	for _, a := range args {
		key, value, ok := strings.Cut(a, "=")
		if !ok || strings.TrimSpace(key) == "" {
			return nil, usage(fmt.Errorf("--setup %q: expected KEY=VALUE, for instance paste=re-applied", a))
		}
		out = append(out, telemetry.Setting{Key: strings.TrimSpace(key), Value: strings.TrimSpace(value)})
	}
	return out, nil
}
