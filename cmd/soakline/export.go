package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"soakline/analysis"
	"soakline/collector/parquet"
	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
	"soakline/server/picture"
)

type exportCmd struct {
	Session string  `arg:"" help:"A session's id or its unique beginning, or 'last'; or a trace file."`
	As      string  `help:"What to write: csv (a trace file), parquet (the same for data work), json (the analysis), svg or png (the annotated chart). Default: as the file's name ends, else csv." placeholder:"FORM" enum:",csv,json,parquet,svg,png" default:""`
	Stair   bool    `help:"With svg or png: the temperature stair instead of the chart."`
	LimitC  float64 `name:"limit-c" help:"The die temperature that you will not exceed, in degC, for json, svg and png." placeholder:"DEGC"`
	Out     string  `short:"o" help:"The file to write; '-' or nothing is standard output." placeholder:"FILE"`
}

// Help is shown by 'soakline export --help'.
func (exportCmd) Help() string {
	return `Example:
  soakline export last -o plate-second-mount.csv
  soakline export last -o plate.png --limit-c 90
  soakline export last --as parquet -o plate.parquet`
}

// pngScale is pixels of a PNG to the pixel of the drawing: sharp on paper.
const pngScale = 2

// Run writes a session in another form. A file appears whole or not at all.
func (x *exportCmd) Run(ctx context.Context, e *env, c *cli) error {
	l := loader{ctx: ctx, cli: c, env: e}
	defer l.close()
	tr, err := l.load(x.Session, nil)
	if err != nil {
		return err
	}
	write := func(w io.Writer) error { return x.write(w, tr) }
	if x.Out == "" || x.Out == "-" {
		return write(e.out)
	}
	if err := writeWhole(x.Out, write); err != nil {
		return err
	}
	fmt.Fprintf(e.errOut, "%d rows of %d channels written to %s as %s\n", len(tr.Time), len(tr.Channels), x.Out, x.form())
	return nil
}

// form is what was asked for, else what the file's name says.
func (x *exportCmd) form() string {
	if x.As != "" {
		return x.As
	}
	end := strings.TrimPrefix(strings.ToLower(filepath.Ext(x.Out)), ".")
	if slices.Contains([]string{"json", "parquet", "svg", "png"}, end) {
		return end
	}
	return "csv"
}

func (x *exportCmd) write(w io.Writer, tr *telemetry.Trace) error {
	form := x.form()
	if x.Stair && form != "svg" && form != "png" {
		return usage(fmt.Errorf("--stair is a picture: ask for --as svg or --as png"))
	}
	switch form {
	case "csv":
		return tracefile.Write(w, tr)
	case "parquet":
		return parquet.Write(w, tr)
	}
	r := analysis.Analyze(tr, analysis.Options{LimitC: x.LimitC})
	if form == "json" {
		enc := json.NewEncoder(w)
		enc.SetIndent("", "  ")
		return enc.Encode(r)
	}
	d := picture.Chart(tr, r, picture.Options{Heading: headingOf(tr), Say: true})
	if x.Stair {
		d = picture.Stair(r, nil, "", "")
	}
	if form == "svg" {
		return d.WriteSVG(w)
	}
	return d.WritePNG(w, pngScale)
}

// headingOf names a recording by the conditions that tell recordings apart.
func headingOf(tr *telemetry.Trace) string {
	var parts []string
	for _, key := range []string{"cooler", "paste", "mount", "lid"} {
		for i := len(tr.Setup) - 1; i >= 0; i-- {
			if tr.Setup[i].Key == key && tr.Setup[i].Value != "" {
				parts = append(parts, tr.Setup[i].Value)
				break
			}
		}
	}
	return strings.Join(parts, ", ")
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
