package report

import (
	"bytes"
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"soakline/collector/telemetry"
)

var update = flag.Bool("update", false, "write the golden files anew; look at them before keeping them")

func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s is now\n%s", file, got)
	}
}

func TestGoldenTables(t *testing.T) {
	var md, text bytes.Buffer
	if err := fixed().Markdown(&md); err != nil {
		t.Fatal(err)
	}
	if err := fixed().Text(&text); err != nil {
		t.Fatal(err)
	}
	golden(t, "tables.md", md.String())
	golden(t, "tables.txt", text.String())
}

func one(tr *telemetry.Trace) Input {
	return Input{Question: "Does it carry 28 W?", LimitC: 90, Setups: [][]Run{{{Trace: tr, ID: "20260301-201500-k3f", Host: "dome-control-7"}}}}
}

// page makes a report and reads it with the parser of the HTML standard.
func page(t testing.TB, in Input) (string, *html.Node) {
	t.Helper()
	r, err := Make(in)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := r.HTML(&b); err != nil {
		t.Fatal(err)
	}
	n, err := html.Parse(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	return b.String(), n
}

// elements lists every element with its attributes' names, and the text of a kind.
func elements(n *html.Node, visit func(*html.Node)) {
	if n.Type == html.ElementNode {
		visit(n)
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		elements(c, visit)
	}
}

func textOf(n *html.Node) string {
	if n.Type == html.TextNode {
		return n.Data
	}
	var b strings.Builder
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		b.WriteString(textOf(c))
	}
	return b.String()
}

// The file needs nothing else: no address in any attribute or style, and a policy whose
// hashes (Content Security Policy Level 3, 6.7.2.2) are those of its style and script.
func TestOneFileWithNothingOutside(t *testing.T) {
	raw, doc := page(t, one(step(400, 0.5, 0.5, 0.9)))
	var policy, style string
	var scripts []*html.Node
	elements(doc, func(n *html.Node) {
		for _, a := range n.Attr {
			switch {
			case a.Key == "src" || a.Key == "href" || strings.HasSuffix(a.Key, ":href") || a.Key == "style" || strings.HasPrefix(a.Key, "on"):
				t.Errorf("<%s %s=%q>", n.Data, a.Key, a.Val)
			case a.Key == "content" && strings.HasPrefix(a.Val, "default-src"):
				policy = a.Val
			}
		}
		switch n.Data {
		case "style":
			style = textOf(n)
		case "script":
			scripts = append(scripts, n)
		case "link", "img", "iframe", "object", "embed", "base", "form":
			t.Errorf("the file holds a <%s>", n.Data)
		}
	})
	if len(scripts) != 2 || scripts[0].Attr[0].Val != "application/json" {
		t.Fatalf("%d scripts", len(scripts))
	}
	want := "default-src 'none'; style-src 'sha256-" + hash(style) + "'; script-src 'sha256-" + hash(textOf(scripts[1])) + "'; font-src data:; base-uri 'none'; form-action 'none'"
	if policy != want {
		t.Errorf("policy %q, want %q", policy, want)
	}
	if u := regexp.MustCompile(`https?://[^"'\s<]+`).FindAllString(strings.ReplaceAll(raw, "http://www.w3.org/2000/svg", ""), -1); len(u) > 0 {
		t.Errorf("addresses %q", u)
	}
	var charts map[string]struct {
		Wide  struct{ From, To float64 }
		Lines []struct {
			ID  string
			Low []*int
		}
	}
	if err := json.Unmarshal([]byte(textOf(scripts[0])), &charts); err != nil {
		t.Fatal(err)
	}
	if c := charts["cA"]; c.Wide.To != 399.5 || len(c.Lines) < 4 || len(c.Lines[0].Low) < 700 {
		t.Errorf("data for the script: %+v", c.Wide)
	}
}

// What the report must hold for its reader.
func TestWhatStandsInIt(t *testing.T) {
	in := one(step(700, 0.5, 1.3, 0.9))
	in.Setups = append(in.Setups, []Run{{Trace: step(700, 0.5, 0.5, 0.9), ID: "20260301-211500-k3g"}})
	in.Setups[1][0].Trace.Setup[0].Value = "plate, mounted again"
	in.Setups[1][0].Trace.Simulated = true
	_, doc := page(t, in)
	all := strings.Join(strings.Fields(textOf(doc)), " ")
	for _, want := range []string{"Does it carry 28 W?", "SIMULATED", "plate, mounted again against A", "The near part of the heat path changed.", "Setup and what changed",
		"Over one another", "Sustained power", "K/W", "Where the kelvin go", "How each number was got", "Cautions", "The maker's limits and local rules come first",
		"panel back on", "Held by long-term power limit", "session 20260301-201500-k3f", "on dome-control-7", "All constants of judgement", "one run against one run",
		"What next?", "Repeat it twice", "Ladder of setups", "The near part of the heat's way changed: in B"} {
		if !strings.Contains(all, want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	svgs := 0
	elements(doc, func(n *html.Node) {
		if n.Data == "svg" {
			svgs++
		}
	})
	if svgs != 2+2+4+1 {
		t.Errorf("%d pictures, want an overlay and two charts, each for desk and phone, two stairs and a ladder", svgs)
	}
}

var evils = []string{`</script><script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `' onmouseover='alert(1)`, `__f__`, `{{.}}`, `<!--`, `]]>`,
	`</style><style>*{display:none}`, `</title><b>`, "\u202egnp.exe", "a\x00b\x1b[31m", "bad\xff", "\u2028alert(1)", `\u003cscript\u003e`, strings.Repeat("long ", 500)}

// Hostile text anywhere adds no element and no attribute, and still can be read.
func TestHostileText(t *testing.T) {
	shape := func(text string) (names []string, doc *html.Node) {
		in := one(step(200, 0.5, 0.5, 0.9))
		in.Question = text
		r := &in.Setups[0][0]
		r.Name, r.Host, r.ID = text, text, text
		tr := r.Trace
		tr.Setup = []telemetry.Setting{{Key: text, Value: text}}
		for i := range tr.Marks {
			tr.Marks[i].Text, tr.Marks[i].Kind = text, telemetry.MarkUser
		}
		for i := range tr.Channels {
			tr.Channels[i].Name, tr.Channels[i].Key, tr.Channels[i].Device = text, text, text
		}
		tr.Scores = []telemetry.Score{{Name: text, Unit: text, Value: 1}}
		raw, doc := page(t, in)
		if strings.ContainsAny(raw, "\u202e\x00\x1b") {
			t.Errorf("%q: control characters went through", text)
		}
		elements(doc, func(n *html.Node) {
			name := n.Data
			if n.Data == "svg" { // labels may be left out where there is no room: the picture has its own test
				name = "svg"
			}
			for p := n.Parent; p != nil; p = p.Parent {
				if p.Data == "svg" {
					return
				}
			}
			for _, a := range n.Attr {
				name += " " + a.Key
			}
			names = append(names, name)
		})
		var md bytes.Buffer
		made, err := Make(in)
		if err != nil || made.Markdown(&md) != nil || strings.Contains(md.String(), "<") {
			t.Errorf("%q as Markdown: %v %s", text, err, md.String())
		}
		return names, doc
	}
	want, _ := shape("plain")
	for _, evil := range evils {
		got, doc := shape(evil)
		if !slices.Equal(got, want) {
			t.Errorf("%.60q changed the page's elements", evil)
		}
		if clean(evil) != "" && !strings.Contains(textOf(doc), clean(evil)) {
			t.Errorf("%.60q cannot be read any more", evil)
		}
	}
}

// An anonymous report holds neither host, ids, dates, devices nor commands.
func TestAnonymous(t *testing.T) {
	in := one(step(300, 0.5, 0.5, 0.9))
	in.Anonymous, in.Made = true, time.Date(2031, 12, 24, 0, 0, 0, 0, time.UTC)
	tr := in.Setups[0][0].Trace
	tr.Setup = append(tr.Setup, telemetry.Setting{Key: "Serial Number", Value: "SN-4711-XYZ"}, telemetry.Setting{Key: "like", Value: "session 20260228-190000-abc on Dome-Control-7"})
	tr.Marks = append(tr.Marks, telemetry.Mark{At: 30, Kind: telemetry.MarkUser, Text: "dome-control-7 hums, drive SN-4711-XYZ"})
	tr.Channels[0].Device, tr.Channels[0].Key = "disk SN-4711-XYZ", "SN-4711-XYZ/power"
	tr.Channels[1].Name = "dome-control-7 die"
	r, err := Make(in)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	for _, write := range []func() error{func() error { return r.HTML(&b) }, func() error { return r.Markdown(&b) }, func() error { return r.Text(&b) }} {
		if err := write(); err != nil {
			t.Fatal(err)
		}
	}
	for _, leak := range []string{"dome-control-7", "Dome-Control-7", "SN-4711", "20260301", "20260228", "2026-03", "2031", "/home/ada", "20:15"} {
		if strings.Contains(b.String(), leak) {
			t.Errorf("%q stands in an anonymous report", leak)
		}
	}
	for _, kept := range []string{Left[:40], "hums", "load starts", "plate"} {
		if !strings.Contains(b.String(), kept) {
			t.Errorf("%q is missing", kept)
		}
	}
	if tr.Channels[0].Device == "" || tr.Start.IsZero() {
		t.Error("the caller's trace was changed")
	}
}

func TestSmallAndBroken(t *testing.T) {
	empty := step(1, 1, 0.5, 0.9)
	empty.Time = nil
	for i := range empty.Values {
		empty.Values[i] = nil
	}
	gap := step(300, 0.5, 0.5, 0.9)
	for i := 200; i < 320; i++ {
		gap.Values[1][i] = math.NaN()
	}
	in := one(empty)
	in.Setups = append(in.Setups, []Run{{Trace: step(0.5, 1, 0.5, 0.9)}}, []Run{{Trace: &telemetry.Trace{}}}, []Run{{Trace: gap}})
	_, doc := page(t, in)
	all := textOf(doc)
	for _, want := range []string{"holds no sample", "no sample", "undetermined"} {
		if !strings.Contains(all, want) {
			t.Errorf("nothing says %q", want)
		}
	}
	if strings.Contains(all, "NaN") {
		t.Error("NaN stands in the report")
	}
	for _, bad := range []Input{{}, {Setups: [][]Run{{}}}, {Setups: make([][]Run, 27)}} {
		if _, err := Make(bad); err == nil {
			t.Errorf("%d setups were accepted", len(bad.Setups))
		}
	}
}

// A day at one sample a second is reported in about the size of an hour.
func TestDayStaysSmall(t *testing.T) {
	raw, _ := page(t, one(step(86400, 1, 0.5, 0.9)))
	if len(raw) > 400_000 {
		t.Errorf("the report of a day has %d bytes", len(raw))
	}
	t.Logf("%d bytes", len(raw))
}

// Several runs of a setup stand beside one another, and changes carry their intervals.
func TestRepeatedRuns(t *testing.T) {
	in := Input{LimitC: 90}
	for s, near := range []float64{0.9, 0.5} {
		var runs []Run
		for k := range 3 {
			tr := step(400, 0.5, near+0.005*float64(k), 0.9)
			tr.Setup[0].Value = []string{"first mount", "mounted again"}[s]
			runs = append(runs, Run{Trace: tr})
		}
		in.Setups = append(in.Setups, runs)
	}
	r, err := Make(in)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := r.Text(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"A1 ", "A3 ", "B2 "} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no column %q in\n%s", want, b.String())
		}
	}
	found := false
	for _, c := range r.changeRows() {
		found = found || c.Name == "temperature over reference" && c.Cells[0].Interval != "" && c.Cells[0].Verdict == "real"
	}
	if !found {
		t.Errorf("no real change of temperature: %+v", r.changeRows())
	}
}

func BenchmarkHTML(b *testing.B) {
	tr := step(3600, 0.1, 0.5, 0.9)
	r, err := Make(one(tr))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		var out bytes.Buffer
		r.HTML(&out)
	}
}
