package picture

import (
	"bytes"
	"encoding/xml"
	"flag"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"soakline/analysis"
	"soakline/collector/telemetry"
)

var update = flag.Bool("update", false, "write the golden files anew; look at them before keeping them")

func svgOf(t testing.TB, d *Drawing) string {
	t.Helper()
	var b bytes.Buffer
	if err := d.WriteSVG(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// wellFormed reads the document to its end as strict XML and gives the texts.
func wellFormed(t testing.TB, doc string) []string {
	t.Helper()
	var out []string
	for d := xml.NewDecoder(strings.NewReader(doc)); ; {
		tok, err := d.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatalf("not well-formed XML: %v", err)
		}
		switch v := tok.(type) {
		case xml.CharData:
			if s := strings.TrimSpace(string(v)); s != "" {
				out = append(out, s)
			}
		case xml.StartElement:
			if v.Name.Local == "script" || v.Name.Local == "foreignObject" {
				t.Errorf("a picture holds a %s", v.Name.Local)
			}
			for _, a := range v.Attr {
				if strings.HasPrefix(strings.ToLower(a.Name.Local), "on") || strings.Contains(a.Name.Local, "href") {
					t.Errorf("a picture holds the attribute %s", a.Name.Local)
				}
			}
		}
	}
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		os.WriteFile(filepath.Join(t.TempDir(), name), got, 0o644)
		t.Errorf("%s differs from the drawing now; look at it, then run with -update", file)
	}
}

// The picture of one recording, byte for byte, twice alike.
func TestGoldenSVG(t *testing.T) {
	tr := step(400, 0.5, [2]float64{200, 230})
	r := found()
	first := svgOf(t, Chart(tr, r, Options{Heading: "plate, mounted again", ID: "g"}))
	if again := svgOf(t, Chart(tr, r, Options{Heading: "plate, mounted again", ID: "g"})); again != first {
		t.Error("the same recording gave two pictures")
	}
	wellFormed(t, first)
	golden(t, "chart.svg", []byte(first))
	earlier := found()
	earlier.ThermalPath.NearKPerW, earlier.ThermalPath.FarKPerW = 1.3, 0.85
	golden(t, "stair.svg", []byte(svgOf(t, Stair(r, &earlier, "plate, first mount", "g"))))
	golden(t, "overlay.svg", []byte(svgOf(t, Overlay([]Item{{"before", tr, r}, {"after", step(300, 0.5, [2]float64{}), r}}, Options{}))))
}

// What the analysis found stands in the picture with its unit.
func TestFindingsAreDrawn(t *testing.T) {
	tr := step(700, 0.5, [2]float64{})
	tr.Marks = tr.Marks[:1]
	r := analysed(tr)
	if !r.PowerStep.Found || !r.Steady.Reached {
		t.Fatalf("the recording should burst and settle: %+v %+v", r.PowerStep, r.Steady)
	}
	all := strings.Join(wellFormed(t, svgOf(t, Chart(tr, r, Options{}))), "\n")
	for _, want := range []string{
		"burst ends " + clockTime(float64(r.PowerStep.TimeS)) + ", " + amount(float64(r.PowerStep.ShortW), 1, "W") + " → " + amount(float64(r.PowerStep.LongW), 1, "W"),
		"steady from " + clockTime(float64(r.Steady.SinceS)) + " at " + amount(float64(r.Steady.TemperatureC), 1, "°C"),
		"long-term limit 28\u00a0W", "your limit 90\u00a0°C", "running average", "ambient temperature", "panel back on",
		"load 11\u00a0min", "Power, W", "Temperature, °C", "Clock, MHz", "long-term power limit",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("the picture does not say %q", want)
		}
	}
	if strings.Contains(all, "SIMULATED") {
		t.Error("a measured recording is stamped as simulated")
	}
	tr.Simulated = true
	if !strings.Contains(svgOf(t, Chart(tr, r, Options{})), ">SIMULATED<") {
		t.Error("a simulated recording is not stamped")
	}
}

// A recording that ends under load shows where it is heading, with the interval.
func TestForecastIsDrawn(t *testing.T) {
	tr := step(150, 0.1, [2]float64{})
	r := analysed(tr)
	if r.Steady.Reached || !r.Steady.ForecastC.Known() {
		t.Fatalf("the recording should still be heating: %+v", r.Steady)
	}
	d := Chart(tr, r, Options{})
	if !strings.Contains(svgOf(t, d), "heading for ") {
		t.Error("no forecast in the picture")
	}
	if d.Zoom.To <= d.Zoom.Last {
		t.Errorf("no room ahead: %v to %v", d.Zoom.Last, d.Zoom.To)
	}
}

var moves = regexp.MustCompile(`<path d="([^"]*)"[^>]*data-line="temperature"`)

// A gap stays a gap: the line ends before it and begins after it, and nothing is drawn
// between.
func TestGapStaysAGap(t *testing.T) {
	tr := step(400, 0.5, [2]float64{200, 260})
	d := Chart(tr, analysed(tr), Options{})
	path := moves.FindStringSubmatch(svgOf(t, d))
	if path == nil || strings.Count(path[1], "M") != 2 {
		t.Fatalf("the line should have two pieces: %.80s", path)
	}
	z := d.Zoom
	x := func(at float64) float64 { return z.Left + (at-z.From)/(z.To-z.From)*(z.Right-z.Left) }
	for _, piece := range strings.Split(path[1], "M")[1:] {
		var at, y float64
		fmt.Sscan(strings.NewReplacer("v", " ", "h", " ", "l", " ").Replace(piece), &at, &y)
		for _, step := range regexp.MustCompile(`[hl](-?[\d.]+)`).FindAllStringSubmatch(piece, -1) {
			var d float64
			fmt.Sscan(step[1], &d)
			at += d
			if at > x(200)+1.5 && at < x(260)-1.5 {
				t.Errorf("a point at %.1f px lies in the gap from %.1f to %.1f", at, x(200), x(260))
			}
		}
	}
	var steps int
	for _, f := range Fine(tr, analysed(tr), 2000) {
		if f.ID == "temperature" {
			for k, v := range f.Low {
				if at := f.Start + (float64(k)+0.5)*f.Step; v == nil && at > 201 && at < 259 {
					steps++
				}
			}
		}
	}
	if steps < 100 {
		t.Errorf("the finer line has %d empty steps in a gap of 60 s", steps)
	}
}

// Why there is no value is said in the gap.
func TestGapSaysWhy(t *testing.T) {
	tr := step(400, 0.5, [2]float64{200, 300})
	tr.States = make([][]telemetry.State, len(tr.Channels))
	tr.States[1] = make([]telemetry.State, len(tr.Time))
	for i, v := range tr.Values[1] {
		if tr.States[1][i] = telemetry.Fresh; math.IsNaN(v) {
			tr.States[1][i] = telemetry.GapGone
		}
	}
	if doc := svgOf(t, Chart(tr, found(), Options{})); strings.Count(doc, "gap: "+telemetry.GapGone.Reason()) != 2 {
		t.Error("the gap does not say once in words, and once where one points, that the device is gone")
	}
	asleep := step(400, 0.5, [2]float64{})
	for i := range asleep.Time {
		if asleep.Time[i] > 200 {
			asleep.Time[i] += 100
		}
	}
	if doc := svgOf(t, Chart(asleep, found(), Options{})); strings.Count(doc, "gap: nothing was sampled") < 3 {
		t.Error("a hole in the recording is not pointed out in every lane")
	}
}

// Many marks leave the lines to be read.
func TestManyMarks(t *testing.T) {
	tr := step(400, 0.5, [2]float64{})
	tr.Marks = nil
	for i := range 300 {
		tr.Marks = append(tr.Marks, telemetry.Mark{At: float64(i), Kind: telemetry.MarkUser, Text: "note"})
	}
	doc, through := svgOf(t, Chart(tr, found(), Options{})), 0
	for _, m := range regexp.MustCompile(`d="M[\d.]+ [\d.]+v([\d.]+)"[^>]*stroke="#1d1b17"[^>]*data-t`).FindAllStringSubmatch(doc, -1) {
		var length float64
		if fmt.Sscan(m[1], &length); length > 100 {
			through++
		}
	}
	if through != 1 { // the end of the burst
		t.Errorf("%d lines go through the lanes, want one", through)
	}
}

// Minimum and maximum survive in every step; buckets of a column against a plain search.
func TestBucketsKeepPeaks(t *testing.T) {
	var c column
	for i := range 10000 {
		v := 20.0
		if i == 3333 {
			v = 99
		}
		if i == 6666 {
			v = 1
		}
		c.at, c.v = append(c.at, float64(i)*0.1), append(c.v, v)
	}
	c.hole = holeOf(c.at)
	low, high := math.Inf(1), math.Inf(-1)
	for _, b := range c.buckets(0, 10, 100) {
		low, high = math.Min(low, b.low), math.Max(high, b.high)
	}
	if low != 1 || high != 99 {
		t.Errorf("the extremes became %v and %v, want 1 and 99", low, high)
	}
}

func TestHostileNames(t *testing.T) {
	for _, evil := range []string{`</script><script>alert(1)</script>`, `" onload="alert(1)`, `'><svg onload=alert(1)>`, `__f__`, `&lt;b&gt;`, `]]>`,
		"\u202eevil\u202c", "nul\x00\x01", "bad\xff utf", "\ufffe", strings.Repeat("wide ", 400)} {
		tr := step(200, 0.5, [2]float64{})
		for i := range tr.Channels {
			tr.Channels[i].Name = evil
		}
		tr.Marks[0].Text = evil
		doc := svgOf(t, Chart(tr, analysed(tr), Options{Heading: evil, Say: true, ID: "s1"}))
		wellFormed(t, doc)
		if strings.Contains(doc, "\u202e") || strings.Contains(doc, "<script") {
			t.Errorf("%q went through", evil)
		}
		r := analysed(tr)
		doc = svgOf(t, Stair(r, &r, evil, "s1"))
		wellFormed(t, doc)
	}
}

func TestSmallSessions(t *testing.T) {
	empty := &telemetry.Trace{Channels: step(1, 1, [2]float64{}).Channels, Values: make([][]float64, 6)}
	if doc := svgOf(t, Chart(empty, analysed(empty), Options{})); !strings.Contains(doc, "holds no sample") {
		t.Error("an empty session does not say so")
	}
	none := &telemetry.Trace{}
	wellFormed(t, svgOf(t, Chart(none, analysed(none), Options{Say: true, Heading: "x"})))
	one := step(0.5, 1, [2]float64{})
	if doc := svgOf(t, Chart(one, analysed(one), Options{Say: true})); !strings.Contains(doc, "h0") {
		t.Error("the only sample is not drawn as a dot")
	}
	allGap := step(100, 1, [2]float64{0, 100})
	wellFormed(t, svgOf(t, Chart(allGap, analysed(allGap), Options{})))
	Stair(analysed(one), nil, "", "")
}

// A day at one sample a second is drawn as small as an hour.
func TestDayStaysSmall(t *testing.T) {
	tr := step(86400, 1, [2]float64{})
	r := analysis.Result{}
	if n := len(svgOf(t, Chart(tr, r, Options{}))); n > 150_000 {
		t.Errorf("the picture of a day has %d bytes", n)
	}
}

// PNG decodes, has the size asked for, and holds what the drawing does where it does.
func TestPNG(t *testing.T) {
	tr := step(400, 0.5, [2]float64{200, 260})
	tr.Simulated = true
	d := Chart(tr, analysed(tr), Options{Width: 800, Height: 600})
	var b bytes.Buffer
	if err := d.WritePNG(&b, 2); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	if s := img.Bounds().Size(); s != image.Pt(1600, int(2*d.Height)) {
		t.Errorf("size %v, want 1600 x %v", s, 2*d.Height)
	}
	count := func(c colour, x0, x1, y0, y1 float64) (n int) {
		for y := int(2 * y0); y < int(2*y1); y++ {
			for x := int(2 * x0); x < int(2*x1); x++ {
				r, g, bl, _ := img.At(x, y).RGBA()
				if colour(r>>8<<16|g>>8<<8|bl>>8) == c {
					n++
				}
			}
		}
		return n
	}
	z := d.Zoom
	at := func(s float64) float64 { return z.Left + (s-z.From)/(z.To-z.From)*(z.Right-z.Left) }
	lane := func(id string) Lane {
		for _, l := range z.Lines {
			if l.ID == id {
				return l.Lane
			}
		}
		t.Fatalf("no line %s", id)
		return Lane{}
	}
	die, p := lane("temperature"), lane("power")
	if n := count(temperature, at(100), at(190), die.Top, die.Bottom); n < 100 {
		t.Errorf("%d pixels of the die's line before the gap", n)
	}
	if n := count(temperature, at(201), at(259), die.Top, die.Bottom); n != 0 {
		t.Errorf("%d pixels of the die's line in the gap", n)
	}
	if n := count(power, at(100), at(300), p.Y(29), p.Y(27)); n < 300 {
		t.Errorf("%d pixels of the power at 28 W", n)
	}
	if n := count(looks[analysis.PowerLong].colour, at(100), at(300), z.Foot+4, z.Foot+30); n < 1000 {
		t.Errorf("%d pixels of the long-term limit in the ribbon", n)
	}
	if n := count(stamp, 600, 800, 0, 40); n < 500 {
		t.Errorf("%d pixels of the stamp", n)
	}
	if n := count(ink, at(20), at(30), z.Foot+40, d.Height); n == 0 && count(ink, 0, 800, z.Foot+30, d.Height) < 50 {
		t.Error("the legend has no letters")
	}
}

// The colours are those of the page.
func TestColoursOfThePage(t *testing.T) {
	css, err := os.ReadFile("../../web/src/styles/tokens.css")
	if err != nil {
		t.Fatal(err)
	}
	light, _, _ := strings.Cut(string(css), "@media")
	want := map[string]colour{"paper": paper, "raised": raised, "ink": ink, "quiet": quiet, "rule": rule, "grid": grid, "limit": limitLine,
		"power": power, "temperature": temperature, "clock": clock, "other-1": other1, "other-2": other2, "other-3": other3, "on-limiter": onLimiter}
	for kind, l := range looks {
		want["limiter-"+string(kind)] = l.colour
	}
	for name, c := range want {
		if !strings.Contains(light, fmt.Sprintf("--%s: %s;", name, hex(c))) {
			t.Errorf("--%s is not %s in tokens.css", name, hex(c))
		}
	}
}

func BenchmarkChart(b *testing.B) {
	tr := step(3600, 0.1, [2]float64{})
	r := analysed(tr)
	b.Run("svg", func(b *testing.B) {
		for b.Loop() {
			Chart(tr, r, Options{Say: true}).WriteSVG(io.Discard)
		}
	})
	b.Run("png", func(b *testing.B) {
		for b.Loop() {
			Chart(tr, r, Options{Say: true}).WritePNG(io.Discard, 2)
		}
	})
}
