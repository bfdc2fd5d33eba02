package main

import (
	"bytes"
	"encoding/json"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// Every form of export from the real recording, chosen by name or by flag.
func TestExportForms(t *testing.T) {
	archiveIn(t)
	dir := t.TempDir()
	begins := map[string]string{"csv": "# ", "json": "{\n", "parquet": "PAR1", "svg": "<svg ", "png": "\x89PNG"}
	for form, want := range begins {
		out := filepath.Join(dir, "out."+form)
		if status, _, errOut := soakline(t, "export", recording, "-o", out); status != 0 {
			t.Fatalf("%s: status %d: %s", form, status, errOut)
		}
		got, err := os.ReadFile(out)
		if err != nil || !strings.HasPrefix(string(got), want) && form != "csv" {
			t.Errorf("%s begins %.20q, %v", form, got, err)
		}
		if form == "png" {
			if img, err := png.Decode(bytes.NewReader(got)); err != nil || img.Bounds().Dx() != 2400 {
				t.Errorf("png: %v", err)
			}
		}
		if form == "json" {
			var r analysed
			if err := json.Unmarshal(got, &r); err != nil || r.Schema != "soakline.analysis/1" {
				t.Errorf("json: %v %s", err, r.Schema)
			}
		}
	}
	status, out, _ := soakline(t, "export", recording, "--as", "svg", "--stair")
	if status != 0 || !strings.HasPrefix(out, "<svg ") {
		t.Errorf("stair: %d %.40q", status, out)
	}
	for _, bad := range [][]string{{recording, "--stair"}, {recording, "--as", "pdf"}, {"no-such-session"}} {
		if status, _, errOut := soakline(t, append([]string{"export"}, bad...)...); status != exitUsage || errOut == "" {
			t.Errorf("%v: status %d, %q", bad, status, errOut)
		}
	}
}

func TestReportForms(t *testing.T) {
	archiveIn(t)
	status, out, errOut := soakline(t, "report", recording, recording, "--markdown", "--question", "Is it the same card?")
	if status != 0 || !strings.HasPrefix(out, "## Is it the same card?") || !strings.Contains(out, "| Sustained power, W | 69") && !strings.Contains(out, "| Sustained power, W | 70") {
		t.Errorf("status %d %s\n%s", status, errOut, out)
	}
	status, out, _ = soakline(t, "report", recording, "--text", "--anonymous")
	if status != 0 || strings.Contains(out, "accelerator-full-load") {
		t.Errorf("status %d\n%s", status, out)
	}
	for _, bad := range [][]string{{}, {"no-such-session"}, {recording, "--text", "--markdown"}, {recording + ",,"}} {
		if status, _, errOut := soakline(t, append([]string{"report"}, bad...)...); status != exitUsage || errOut == "" {
			t.Errorf("%v: status %d, %q", bad, status, errOut)
		}
	}
}

// The report in a browser, from the disk: it fits a desk and a phone, its script runs
// under its own policy, and zooming redraws the lines and comes back.
func TestReportInABrowser(t *testing.T) {
	ctx := browser(t)
	archiveIn(t)
	file := filepath.Join(t.TempDir(), "report.html")
	if status, _, errOut := soakline(t, "report", recording, recording, "-o", file); status != 0 {
		t.Fatalf("status %d: %s", status, errOut)
	}
	if err := chromedp.Do(ctx, chromedp.Navigate("file://"+filepath.ToSlash(file))); err != nil {
		t.Fatal(err)
	}
	ask := func(js string) string {
		t.Helper()
		out, err := chromedp.Run(ctx, chromedp.Evaluate[string](js))
		if err != nil {
			t.Fatalf("%s: %v", js, err)
		}
		return out
	}
	const line = `document.querySelector(".run .wide [data-line=power]").getAttribute("d")`
	// after presses a button and waits until the line is as wanted.
	after := func(what string, done func(d string) bool) (d string) {
		t.Helper()
		ask(`document.querySelector(".run [data-do=` + what + `]").click(); "pressed"`)
		for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			if d = ask(line); done(d) {
				return d
			}
		}
		t.Errorf("after %q the line is still %.60s", what, d)
		return d
	}
	whole := ask(line)
	if zoomed := after("shorter", func(d string) bool { return d != whole }); !strings.Contains(zoomed, "L") {
		t.Errorf("zoomed, the line is not drawn: %.60s", zoomed)
	}
	if w := ask(`document.querySelector(".run .window").textContent`); !strings.Contains(w, " to ") {
		t.Errorf("the window shown is not said: %q", w)
	}
	after("whole", func(d string) bool { return d == whole })
	for _, width := range []int64{1280, 390} {
		if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, 900)); err != nil {
			t.Fatal(err)
		}
		if over := ask(`String(document.documentElement.scrollWidth - innerWidth)`); over != "0" {
			t.Errorf("%d px wide: %s px too wide", width, over)
		}
	}
	if shown := ask(`getComputedStyle(document.querySelector(".run .narrow")).display`); shown != "block" {
		t.Errorf("the phone's chart is %s", shown)
	}
}
