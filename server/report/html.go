package report

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"math"
	"strings"

	"soakline/analysis/compare"
	"soakline/analysis/next"
	"soakline/analysis/say"
	"soakline/server/picture"
)

//go:embed report.html.tmpl
var markup string

//go:embed report.css
var style string

//go:embed zoom.js
var script string

var pageTemplate = template.Must(template.New("report").Parse(markup))

// fontFile is the page's sans serif, of which the report carries a copy (SIL Open Font
// License 1.1, which allows it).
const fontFile = "atkinson-hyperlegible-next-latin-wght-normal.woff2"

// fineSteps is how finely a chart can be zoomed.
const (
	fineSteps    = 2400
	overlaySteps = 1500
)

// chartView is a chart in the widths of a desk and of a phone.
type chartView struct {
	Wide, Narrow template.HTML
}

type runView struct {
	Label, Name string
	Facts       []string
	Parts       []say.Part
	Chart       chartView
	Marks       []markView
	Warnings    []string
}

type markView struct{ At, Text, Kind string }

type changeView struct {
	Letter, Name string
	Path         compare.ThermalPath
	Near, Far    string
	Warnings     []string
}

type stairView struct {
	Label, Name string
	Picture     template.HTML
}

type view struct {
	Policy, Title    string
	Style            template.CSS
	Script           template.JS
	Simulated        bool
	Made, Left       string
	Setups           []setupView
	Conditions       []condition
	Differing, Alike []condition
	Runs             []runView
	Rows             []row
	Changes          []changeView
	ChangeRows       []change
	Overlay          *chartView
	Stairs           []stairView
	Methods          []how
	Thresholds       string
	Cautions         []string
	Charts           map[string]any // for the script
	Sentence         []string
	Ladder           *ladderView
	Next             []next.Entry
	NextOf           string
}

type setupView struct {
	Letter, Name string
	Runs         []string
}

// HTML writes the report as one file that needs nothing else: style, pictures, data and
// script inside, and a policy that lets it load nothing. It returns the first error of w.
func (r *Report) HTML(w io.Writer) error {
	css := style
	if r.in.Fonts != nil {
		css = fontFace(r.in.Fonts) + css
	}
	v := view{Title: r.title(), Style: template.CSS(css), Script: template.JS(script), Simulated: r.simulated(),
		Methods: methods(), Thresholds: thresholds(), Cautions: cautions, Charts: map[string]any{}}
	v.Policy = "default-src 'none'; style-src 'sha256-" + hash(css) + "'; script-src 'sha256-" + hash(script) + "'; font-src data:; base-uri 'none'; form-action 'none'"
	if r.in.Anonymous {
		v.Left = Left
	} else if !r.in.Made.IsZero() {
		v.Made = r.in.Made.Format("2 January 2006")
	}
	r.fillSetups(&v)
	r.fillRuns(&v)
	r.fillChanges(&v)
	r.fillLadder(&v)
	var b bytes.Buffer
	if err := pageTemplate.Execute(&b, v); err != nil {
		return fmt.Errorf("write report: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return base64.StdEncoding.EncodeToString(sum[:])
}

// fontFace embeds the page's font; "" where it is not built in.
func fontFace(fonts fs.FS) string {
	b, err := fs.ReadFile(fonts, fontFile)
	if err != nil {
		return ""
	}
	return `@font-face{font-family:"Atkinson Hyperlegible Next Variable";font-weight:200 800;src:url(data:font/woff2;base64,` +
		base64.StdEncoding.EncodeToString(b) + `) format("woff2")}` + "\n"
}

func (r *Report) fillSetups(v *view) {
	for _, s := range r.setups {
		sv := setupView{Letter: s.letter, Name: s.name}
		for _, run := range s.runs {
			sv.Runs = append(sv.Runs, run.label)
		}
		v.Setups = append(v.Setups, sv)
	}
	for _, c := range r.conditions() {
		if c.Differs {
			v.Differing = append(v.Differing, c)
		} else {
			v.Alike = append(v.Alike, c)
		}
	}
	v.Rows = r.rows()
}

func (r *Report) fillRuns(v *view) {
	var items []picture.Item
	for _, s := range r.setups {
		for k, run := range s.runs {
			id := "c" + run.label
			rv := runView{Label: run.label, Name: s.name, Facts: r.facts(run), Parts: run.line.Parts, Warnings: run.result.Warnings}
			rv.Chart = r.chart(v, run, id)
			for _, m := range run.Trace.Marks {
				rv.Marks = append(rv.Marks, markView{clock(m.At), clean(m.Text), string(m.Kind)})
			}
			v.Runs = append(v.Runs, rv)
			if k == 0 {
				items = append(items, picture.Item{Name: s.letter + ", " + s.name, Trace: run.Trace, Result: run.result})
				v.Stairs = append(v.Stairs, r.stair(s, run))
			}
		}
	}
	if len(items) > 1 {
		wide, narrow := picture.Overlay(items, picture.Options{ID: "o"}), picture.Overlay(items, picture.Options{ID: "on", Width: 430, Height: 620})
		if wide.Zoom != nil {
			v.Charts["o"] = map[string]any{"wide": wide.Zoom, "narrow": narrow.Zoom, "lines": picture.FineOverlay(items, overlaySteps)}
		}
		v.Overlay = &chartView{svg(wide), svg(narrow)}
	}
}

// facts say what a session is: its length, and unless left out when and where it was.
func (r *Report) facts(run run) []string {
	var out []string
	if n := len(run.Trace.Time); n > 0 {
		length := run.Trace.Time[n-1] - run.Trace.Time[0]
		out = append(out, fmt.Sprintf("%s long, %d samples of %d channels", clock(length), n, len(run.Trace.Channels)))
	} else {
		out = append(out, "no sample")
	}
	if !run.Trace.Start.IsZero() {
		out = append(out, "began "+run.Trace.Start.Format("2006-01-02 15:04 MST"))
	}
	if run.Host != "" {
		out = append(out, "on "+clean(run.Host))
	}
	if run.ID != "" {
		out = append(out, "session "+clean(run.ID))
	}
	return out
}

// chart draws a run's charts and lays down what the script needs to zoom them.
func (r *Report) chart(v *view, run run, id string) chartView {
	wide := picture.Chart(run.Trace, run.result, picture.Options{ID: id})
	narrow := picture.Chart(run.Trace, run.result, picture.Options{ID: id + "n", Width: 430, Height: 760})
	if wide.Zoom != nil {
		v.Charts[id] = map[string]any{"wide": wide.Zoom, "narrow": narrow.Zoom, "lines": picture.Fine(run.Trace, run.result, fineSteps)}
	}
	return chartView{svg(wide), svg(narrow)}
}

func (r *Report) stair(s setup, run run) stairView {
	first := r.setups[0].runs[0]
	out := stairView{Label: s.letter, Name: s.name}
	if s.letter == "A" {
		out.Picture = svg(picture.Stair(run.result, nil, "", "t"+s.letter))
	} else {
		out.Picture = svg(picture.Stair(run.result, &first.result, "A, "+r.setups[0].name, "t"+s.letter))
	}
	return out
}

func (r *Report) fillChanges(v *view) {
	for i, c := range r.changes {
		s := r.setups[i+1]
		cv := changeView{Letter: s.letter, Name: s.name, Path: c.ThermalPath}
		for _, w := range c.Warnings {
			cv.Warnings = append(cv.Warnings, strings.ReplaceAll(w, "between A and B", "between A and "+s.letter))
		}
		ratio := func(n, low, high float64) string {
			if math.IsNaN(n) {
				return none
			}
			return fmt.Sprintf("%.2f (%.2f to %.2f)", n, low, high)
		}
		p := c.ThermalPath
		cv.Near, cv.Far = ratio(float64(p.NearRatio), float64(p.NearLow), float64(p.NearHigh)), ratio(float64(p.FarRatio), float64(p.FarLow), float64(p.FarHigh))
		v.Changes = append(v.Changes, cv)
	}
	v.ChangeRows = r.changeRows()
}

// svg gives a drawing as part of the page: it escapes every text itself.
func svg(d *picture.Drawing) template.HTML {
	var b strings.Builder
	d.WriteSVG(&b) // a Builder gives no error
	return template.HTML(b.String())
}

// clock writes session time as m:ss or h:mm:ss.
func clock(s float64) string {
	n := int64(math.Round(s))
	if n >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
	}
	return fmt.Sprintf("%d:%02d", n/60, n%60)
}
