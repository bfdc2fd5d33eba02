// Command soakline watches, records and analyses a computer under load for people who
// change its cooling or its power limits. It reads; it never writes a limit, a voltage
// or a fan speed. This package owns flags, wiring and shutdown, and no logic.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"github.com/alecthomas/kong"

	lines "soakline/collector/source/feed"
)

// Exit statuses, as the contract fixes them.
const (
	exitOK      = 0
	exitFailure = 1
	exitUsage   = 2 // a wrong flag, or a file that cannot be read
)

// memoryLimit makes the collector work harder before the program grows past what a
// guest on somebody's machine may take; it is no hard limit.
const memoryLimit = 64 << 20

func main() {
	debug.SetMemoryLimit(memoryLimit)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// statusError carries the exit status that an error asks for.
type statusError struct {
	status int
	err    error
}

func (e statusError) Error() string { return e.err.Error() }
func (e statusError) Unwrap() error { return e.err }

// usage marks err as the user's to mend: exit status 2.
func usage(err error) error { return statusError{exitUsage, err} }

// env is what every verb gets: where to write, and the log.
type env struct {
	out, errOut io.Writer
	log         *slog.Logger
}

// run parses args, runs the verb and gives the exit status. It prints errors itself.
func run(ctx context.Context, args []string, out, errOut io.Writer) int {
	var c cli
	exited := -1
	parser, err := kong.New(&c,
		kong.Name("soakline"),
		kong.Description(description),
		kong.Vars{"rigs": rigNames(), "ways": lines.Ways},
		kong.Writers(out, errOut),
		kong.Exit(func(code int) { exited = code }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, NoExpandSubcommands: true}),
		kong.BindTo(ctx, (*context.Context)(nil)),
	)
	if err != nil {
		fmt.Fprintln(errOut, "soakline:", err)
		return exitFailure
	}
	kctx, err := parser.Parse(args)
	if exited >= 0 { // --help
		return exited
	}
	if err != nil {
		fmt.Fprintf(errOut, "soakline: %v\nsee soakline --help\n", err)
		return exitUsage
	}
	level := slog.LevelInfo
	if c.Verbose {
		level = slog.LevelDebug
	}
	log := slog.New(slog.NewTextHandler(errOut, &slog.HandlerOptions{Level: level}))
	err = kctx.Run(&env{out: out, errOut: errOut, log: log})
	var status statusError
	switch {
	case err == nil:
		return exitOK
	case errors.As(err, &status):
		if status.err != nil {
			fmt.Fprintln(errOut, "soakline:", status.err)
		}
		return status.status
	}
	fmt.Fprintln(errOut, "soakline:", err)
	return exitFailure
}
