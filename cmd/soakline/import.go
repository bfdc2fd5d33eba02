package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
)

type importCmd struct {
	File string    `arg:"" help:"A trace file (CSV with a time column, units in the header)."`
	Name string    `help:"What to call the session (default: the file's name)."`
	Role roleFlags `help:"Give a channel a role, for instance die=\"cpu 0\"." placeholder:"ROLE=CHANNEL" sep:"none"`
}

// Help is shown by 'soakline import --help'.
func (importCmd) Help() string {
	return `Example:
  soakline import bench-monday.csv --name "plate, first mount"`
}

// Run takes a trace file into the archive. A file with an error changes nothing.
func (m *importCmd) Run(ctx context.Context, e *env, c *cli) error {
	roles, err := m.Role.roles()
	if err != nil {
		return err
	}
	tr, err := readTrace(m.File, roles)
	if err != nil {
		return err
	}
	store, err := c.open(e)
	if err != nil {
		return err
	}
	defer store.Close()
	name := m.Name
	if name == "" {
		name = strings.TrimSuffix(filepath.Base(m.File), filepath.Ext(m.File))
	}
	id, err := store.Import(ctx, tr, name)
	if err != nil {
		return err
	}
	fmt.Fprintf(e.out, "%s\n", id)
	fmt.Fprintf(e.errOut, "%d rows of %d channels taken in as session %s\n", len(tr.Time), len(tr.Channels), id)
	return nil
}
