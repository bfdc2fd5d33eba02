package main

import (
	"fmt"
	"strings"

	"soakline/collector/archive"
	"soakline/collector/telemetry"
)

const description = `Watches a computer while you change its cooling or its power limits, and says from the evidence what holds it back, ` +
	`how much room is left and what to change next. It only reads; it never writes a limit, a voltage or a fan speed.`

type cli struct {
	Verbose bool   `help:"Log more of what happens." short:"v"`
	Data    string `help:"Where sessions are kept (default: the user's data folder)." placeholder:"FILE"`

	Watch    watchCmd    `cmd:"" default:"withargs" help:"Watch this machine on a second screen (what a bare soakline does)."`
	Record   recordCmd   `cmd:"" help:"Record a session without the page, around a command of yours if you name one."`
	Plan     planCmd     `cmd:"" help:"Carry out a plan: rest, load and cooling, repeated, over one or several setups."`
	Channels channelsCmd `cmd:"" help:"List what can be read here, what a read costs, and what is missing and why."`
	Feed     feedCmd     `cmd:"" help:"Look at instruments that write lines of text."`
	Analyze  analyzeCmd  `cmd:"" help:"Say what a recorded session or a trace file shows."`
	Compare  compareCmd  `cmd:"" help:"Say what differs between two sessions or trace files, or two sets of runs."`
	Ladder   ladderCmd   `cmd:"" help:"Order all setups of a machine as they were tried, each against stock and the one before."`
	Next     nextCmd     `cmd:"" help:"List what to change, measure or repeat next, each with its evidence."`
	Report   reportCmd   `cmd:"" help:"Make a report of one or several sessions: one HTML file, or its tables to paste."`
	Export   exportCmd   `cmd:"" help:"Write a session as a trace file, as Parquet, as JSON of its analysis or as a picture."`
	Import   importCmd   `cmd:"" help:"Take a trace file (CSV) into the archive."`
	Sessions sessionsCmd `cmd:"" help:"List the recorded sessions; rename, pin, delete and restore them."`
	Mark     markCmd     `cmd:"" help:"Pin a note to a time, in the recording in progress or in a session."`
	Setup    setupCmd    `cmd:"" help:"Show or correct the conditions of the recording in progress or of a session."`
	Score    scoreCmd    `cmd:"" help:"Note what a run achieved, with its unit and direction."`

	OwnLoad ownLoadCmd `cmd:"" hidden:"" help:"The process of soakline's own load."`
}

// open opens the archive that the flags name.
func (c *cli) open(e *env) (*archive.Store, error) {
	path := c.Data
	if path == "" {
		var err error
		if path, err = archive.DefaultPath(); err != nil {
			return nil, err
		}
	}
	return archive.Open(path, e.log)
}

// roleFlags are "role=channel" pairs from the command line.
type roleFlags []string

// roles parses the pairs.
func (f roleFlags) roles() (map[telemetry.Role]string, error) {
	out := map[telemetry.Role]string{}
	for _, pair := range f {
		role, name, ok := strings.Cut(pair, "=")
		if !ok || name == "" {
			return nil, usage(fmt.Errorf(`--role %q: expected ROLE=CHANNEL, for instance --role die="cpu 0"`, pair))
		}
		out[telemetry.Role(strings.TrimSpace(role))] = strings.Trim(strings.TrimSpace(name), `"`)
	}
	return out, nil
}
