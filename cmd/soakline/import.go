package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"soakline/collector/archive"
	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
)

type importCmd struct {
	Files      []string  `arg:"" help:"Trace files: CSV with a column of time. Several are merged on one clock."`
	Name       string    `help:"What to call the session (default: the first file's name)."`
	Role       roleFlags `help:"Give a channel a role, for instance die=\"cpu 0\"." placeholder:"ROLE=CHANNEL" sep:"none"`
	Map        []string  `help:"Read a column as this name and unit; '#3' is the third column, '-' leaves one out, 'time [ms]' is the time. Remembered for files with the same header." placeholder:"COLUMN=NAME [UNIT]" sep:"none"`
	MapFile    string    `help:"A file with one such mapping a line." placeholder:"FILE"`
	Forget     bool      `help:"Read the columns without the mapping that is remembered, and forget it."`
	Offset     []string  `help:"With several files: begin one of them later (or earlier) than its own clock says." placeholder:"FILE=1.5s" sep:"none"`
	HeaderLine int       `help:"The line on which the header stands, where others come before it." placeholder:"N"`
	Dates      string    `help:"What comes first in dates such as 03/01/2026: day-first or month-first." enum:"day-first,month-first," default:"" placeholder:"day-first|month-first"`
}

// Help is shown by 'soakline import --help'.
func (importCmd) Help() string {
	return `Cells may be separated by commas, semicolons or tabs, with decimal points or commas.
Units are read from the header, else guessed from names; what was guessed is told.

Example:
  soakline import bench-monday.csv --name "plate, first mount"
  soakline import log.csv --map "CPU Pkg=package power [W]" --map "Serial=-"
  soakline import log.csv meter.csv --offset meter=1.5s`
}

// Run takes trace files into the archive as one session. A file with an error changes nothing.
func (m *importCmd) Run(ctx context.Context, e *env, c *cli) error {
	roles, err := m.Role.roles()
	if err != nil {
		return err
	}
	store, err := c.open(e)
	if err != nil {
		return err
	}
	defer store.Close()
	parts, err := m.open(ctx, store, roles)
	defer func() {
		for _, p := range parts {
			p.file.Close()
		}
	}()
	if err != nil {
		return err
	}
	rows, err := m.rows(parts, roles)
	if err != nil {
		return usage(err)
	}
	name := m.Name
	if name == "" {
		name = parts[0].Name
	}
	done, err := store.ImportRows(ctx, rows, name)
	if err != nil {
		return importFault(err)
	}
	fmt.Fprintf(e.out, "%s\n", done.ID)
	for _, p := range parts {
		m.tell(ctx, e, store, p)
	}
	fmt.Fprintf(e.errOut, "%d rows of %d channels taken in as session %s\n", done.Rows, done.Channels, done.ID)
	return nil
}

// importFault tells a file's fault, which is the user's to mend, from the archive's.
func importFault(err error) error {
	var place *tracefile.Error
	if errors.As(err, &place) {
		return usage(place)
	}
	if strings.Contains(err.Error(), "roles: ") { // an override that fits nothing
		return usage(err)
	}
	return err
}

// filePart is one of the files.
type filePart struct {
	tracefile.Part
	file     *os.File
	mapped   []tracefile.Assignment // as the user says
	recalled bool
}

func (m *importCmd) open(ctx context.Context, store *archive.Store, roles map[telemetry.Role]string) ([]*filePart, error) {
	var parts []*filePart
	names := partNames(m.Files)
	offsets, err := m.offsets(names)
	if err != nil {
		return nil, err
	}
	maps, err := m.maps(names)
	if err != nil {
		return nil, err
	}
	for i, path := range m.Files {
		f, err := os.Open(path)
		if err != nil {
			return parts, usage(err)
		}
		p := &filePart{Part: tracefile.Part{Name: names[i], Offset: offsets[names[i]]}, file: f, mapped: maps[names[i]]}
		parts = append(parts, p)
		o := tracefile.Options{Map: p.mapped, HeaderLine: m.HeaderLine, Zone: time.Local,
			Dates: map[string]tracefile.DateOrder{"day-first": tracefile.DayFirst, "month-first": tracefile.MonthFirst}[m.Dates]}
		if len(m.Files) == 1 {
			o.Roles = roles
		}
		var failed error
		o.Recall = func(signature string) (list []tracefile.Assignment) {
			if m.Forget {
				failed = errors.Join(failed, store.ForgetMapping(ctx, signature))
				return nil
			}
			known, err := store.RecallMapping(ctx, signature, &list)
			failed, p.recalled = errors.Join(failed, err), p.recalled || known
			return list
		}
		p.Rows, err = tracefile.NewRows(f, o)
		if err = errors.Join(usage1(err), failed); err != nil {
			return parts, err
		}
	}
	return parts, nil
}

func usage1(err error) error {
	if err == nil {
		return nil
	}
	return usage(err)
}

func (m *importCmd) rows(parts []*filePart, roles map[telemetry.Role]string) (archive.Rows, error) {
	if len(parts) == 1 {
		return parts[0].Rows, nil
	}
	var list []tracefile.Part
	for _, p := range parts {
		list = append(list, p.Part)
	}
	return tracefile.Merge(list, roles)
}

// tell says what was guessed or remembered, and remembers what the user said.
func (m *importCmd) tell(ctx context.Context, e *env, store *archive.Store, p *filePart) {
	for _, g := range p.Rows.Guesses() {
		fmt.Fprintf(e.errOut, "%s: %s; --map says otherwise\n", p.Name, plain(g))
	}
	switch {
	case p.mapped != nil:
		if err := store.RememberMapping(ctx, p.Rows.Signature(), p.mapped); err != nil {
			e.log.Warn("the mapping is not remembered", "err", err)
		}
	case p.recalled:
		fmt.Fprintf(e.errOut, "%s: read with the mapping that is remembered for this header; --forget reads it without\n", p.Name)
	}
}

// maps gives each file its mappings: "b:Pkg=..." is for the file b alone.
func (m *importCmd) maps(names []string) (map[string][]tracefile.Assignment, error) {
	lines := slices.Clone(m.Map)
	if m.MapFile != "" {
		text, err := os.ReadFile(m.MapFile)
		if err != nil {
			return nil, usage(err)
		}
		for s := bufio.NewScanner(bytes.NewReader(text)); s.Scan(); {
			if line := strings.TrimSpace(s.Text()); line != "" && !strings.HasPrefix(line, "# ") {
				lines = append(lines, line)
			}
		}
	}
	out := map[string][]tracefile.Assignment{}
	for _, line := range lines {
		to := names
		for _, n := range names {
			if rest, ok := strings.CutPrefix(line, n+":"); ok && len(names) > 1 {
				line, to = rest, []string{n}
			}
		}
		a, err := tracefile.ParseAssignment(line)
		if err != nil {
			return nil, usage(err)
		}
		for _, n := range to {
			out[n] = append(out[n], a)
		}
	}
	return out, nil
}

func (m *importCmd) offsets(names []string) (map[string]float64, error) {
	out := map[string]float64{}
	for _, text := range m.Offset {
		name, span, ok := strings.Cut(text, "=")
		d, err := time.ParseDuration(span)
		if !ok || err != nil || !slices.Contains(names, name) {
			return nil, usage(fmt.Errorf("--offset %q: expected FILE=TIME, for instance %s=1.5s; the files are %s", text, names[len(names)-1], strings.Join(names, ", ")))
		}
		out[name] = d.Seconds()
	}
	return out, nil
}

// partNames are the files' names without folder and ending, each once.
func partNames(files []string) []string {
	var names []string
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), filepath.Ext(f))
		for base, n := name, 2; slices.Contains(names, name); n++ {
			name = fmt.Sprintf("%s (%d)", base, n)
		}
		names = append(names, name)
	}
	return names
}
