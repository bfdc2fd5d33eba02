package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"soakline/collector/archive"
	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
)

// loader finds what a verb was asked to work on: a trace file, else a session of the
// archive, which it opens when the first session is asked for.
type loader struct {
	ctx   context.Context
	cli   *cli
	env   *env
	store *archive.Store
}

// load gives the trace that name stands for. A trace that cannot be read is exit
// status 2.
func (l *loader) load(name string, roles map[telemetry.Role]string) (*telemetry.Trace, error) {
	if info, err := os.Stat(name); err == nil && !info.IsDir() {
		return readTrace(name, roles)
	}
	if strings.ContainsAny(name, `/\`) || strings.HasSuffix(strings.ToLower(name), ".csv") {
		return nil, usage(fmt.Errorf("open %s: no such file", name))
	}
	if l.store == nil {
		store, err := l.cli.open(l.env)
		if err != nil {
			return nil, err
		}
		l.store = store
	}
	tr, err := l.store.Load(l.ctx, name)
	if err != nil {
		return nil, usage(fmt.Errorf("%w ('soakline sessions'); a trace file is named by its path", err))
	}
	if len(roles) > 0 {
		if tr.Channels, err = telemetry.Resolve(tr.Channels, roles); err != nil {
			return nil, usage(err)
		}
	}
	return tr, nil
}

func (l *loader) close() {
	if l.store != nil {
		l.store.Close()
	}
}

func readTrace(path string, roles map[telemetry.Role]string) (*telemetry.Trace, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, usage(err)
	}
	defer f.Close()
	tr, err := tracefile.Read(f, tracefile.Options{Roles: roles})
	if err != nil {
		return nil, usage(err)
	}
	return tr, nil
}

var errNothing = errors.New("nothing to record: no source gives a channel here; see 'soakline channels'")
