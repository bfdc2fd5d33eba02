package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"soakline/collector/tracefile"
)

type exportCmd struct {
	Session string `arg:"" help:"A session's id or its unique beginning, or 'last'."`
	Out     string `short:"o" help:"The file to write; '-' or nothing is standard output." placeholder:"FILE"`
}

// Help is shown by 'soakline export --help'.
func (exportCmd) Help() string {
	return `Example:
  soakline export last -o plate-second-mount.csv`
}

// Run writes a session as a trace file. A file appears whole or not at all.
func (x *exportCmd) Run(ctx context.Context, e *env, c *cli) error {
	l := loader{ctx: ctx, cli: c, env: e}
	defer l.close()
	tr, err := l.load(x.Session, nil)
	if err != nil {
		return err
	}
	write := func(w io.Writer) error { return tracefile.Write(w, tr) }
	if x.Out == "" || x.Out == "-" {
		return write(e.out)
	}
	if err := writeWhole(x.Out, write); err != nil {
		return err
	}
	fmt.Fprintf(e.errOut, "%d rows of %d channels written to %s\n", len(tr.Time), len(tr.Channels), x.Out)
	return nil
}

// writeWhole writes beside the target, syncs and renames, so that a broken write leaves
// what was there before.
func writeWhole(path string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".soakline-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err = write(f); err != nil {
		return err
	}
	if err = f.Chmod(0o644); err != nil {
		return err
	}
	if err = f.Sync(); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
