package main

import (
	"context"
	"encoding/json"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
	"soakline/server/wire"
)

// marksOf asks the program for the marks whose text begins so.
func marksOf(t *testing.T, p *program, prefix string) (found []wire.Mark) {
	t.Helper()
	answer, err := http.Get(strings.TrimSuffix(p.URL, "/") + "/api/layout")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	var layout wire.Layout
	if err := json.NewDecoder(answer.Body).Decode(&layout); err != nil {
		t.Fatal(err)
	}
	for _, m := range layout.Marks {
		if strings.HasPrefix(m.Text, prefix) {
			found = append(found, m)
		}
	}
	return found
}

// anotherTab opens the page a second time in the same browser.
func anotherTab(t *testing.T, ctx context.Context, url string) context.Context {
	t.Helper()
	tab, cancel := chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	press(t, tab, chromedp.Navigate(url))
	return tab
}

// A die over the user's limit, seen by two pages: both say so, one mark is kept, and one
// acknowledgement holds for both.
func TestPageRaisesOneAlarmForAll(t *testing.T) {
	ctx := browser(t)
	p := start(t, "watch", "--rig", "plate-again", "--speed", "10", "--listen", "127.0.0.1:0", "--limit-c", "36")
	press(t, ctx, theme("light"), chromedp.Navigate(p.URL))
	other := anotherTab(t, ctx, p.URL)

	const title = "die temperature over 36 °C"
	for name, tab := range map[string]context.Context{"first": ctx, "second": other} {
		page(t, tab, textOf("#alarm-list"), title)
		page(t, tab, `document.title`, "▲ "+title)
		page(t, tab, textOf("#alarm-aloud"), title)
		if n := page(t, tab, `String(soakline.alarms())`, "1"); n != "1" {
			t.Errorf("the %s page raised %s alarms", name, n)
		}
	}
	time.Sleep(time.Second)
	shoot(t, ctx, "alarm-on-light")
	audit(t, ctx, "alarm on")
	press(t, ctx, theme("dark"), chromedp.EmulateViewport(360, 740), chromedp.Sleep(300*time.Millisecond))
	shoot(t, ctx, "alarm-on-phone")
	audit(t, ctx, "alarm on, phone, dark")
	if marks := marksOf(t, p, "alarm: "); len(marks) != 1 || marks[0].Text != "alarm: "+title {
		t.Errorf("two pages left the marks %+v, want one", marks)
	}

	press(t, ctx, theme("light"), chromedp.EmulateViewport(1280, 900), chromedp.KeyEvent("a"))
	for _, tab := range []context.Context{ctx, other} {
		page(t, tab, textOf("#alarm-list"), "acknowledged")
		page(t, tab, `document.title.includes("▲") ? "" : "calm"`, "calm")
	}
	shoot(t, ctx, "alarm-acknowledged")
	if marks := marksOf(t, p, "acknowledged: "); len(marks) != 1 {
		t.Errorf("acknowledged by the marks %+v, want one", marks)
	}
}

// child runs soakline as a process of its own, so that it can die as a crash would make it,
// and waits for its address.
func child(t *testing.T, args ...string) (url string, kill func()) {
	t.Helper()
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), asProgram+"=1")
	out := &output{}
	cmd.Stdout, cmd.Stderr = out, out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	kill = sync.OnceFunc(func() { cmd.Process.Kill(); cmd.Wait() })
	t.Cleanup(kill)
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if url = address.FindString(out.String()); url != "" {
			return strings.TrimSuffix(url, "/"), kill
		}
	}
	t.Fatalf("soakline %q printed no address: %s", args, out)
	return "", nil
}

// The machine crashes in the middle of a run: the page says so with the last second it
// knows and raises an alarm; what it holds is saved without the program, as a file that
// soakline itself reads, and still when another session has taken its place.
func TestPageSavesWhatItHoldsWhenTheProgramIsGone(t *testing.T) {
	ctx := browser(t)
	data := filepath.Join(t.TempDir(), "crash.db")
	url, kill := child(t, "--data", data, "watch", "--rig", "plate-first", "--speed", "10", "--listen", "127.0.0.1:0")
	press(t, ctx, theme("dark"), chromedp.Navigate(url))
	sayLine(t, ctx, 10*time.Second, "W")
	press(t, ctx, do(`document.querySelector("#mark-text").focus()`), chromedp.KeyEvent("panel = off, \"really\""), chromedp.KeyEvent("\r"))
	page(t, ctx, textOf("#marks"), "really")
	press(t, ctx, do(`document.activeElement.blur()`), chromedp.Sleep(2*time.Second))
	kill()

	page(t, ctx, textOf("#banner-words"), "The last reading is of 0:")
	page(t, ctx, textOf("#alarm-list"), "no contact with the program")
	page(t, ctx, `document.title`, "no contact with the program")
	shoot(t, ctx, "program-gone-dark")
	audit(t, ctx, "program gone")
	press(t, ctx, do(`{ const make = URL.createObjectURL.bind(URL); URL.createObjectURL = b => { b.text().then(t => { window.saved = t; }); return make(b); }; }`),
		do(`document.querySelector("#banner-save").click()`))
	text := page(t, ctx, `window.saved ?? ""`, "\n")
	heldTrace(t, ctx, text)

	press(t, ctx, chromedp.KeyEvent("a"))
	_, _ = child(t, "--data", data, "watch", "--rig", "plate-first", "--speed", "10", "--listen", strings.TrimPrefix(url, "http://"))
	page(t, ctx, textOf("#before-words"), "Another session runs now")
	page(t, ctx, textOf("#contact"), "live")
	page(t, ctx, `document.querySelector("#alarm").hidden ? "calm" : ""`, "calm")
	press(t, ctx, do(`window.saved = ""`), do(`document.querySelector("#before-save").click()`))
	if again := page(t, ctx, `window.saved`, "\n"); again != text {
		t.Errorf("saved after the return are %d bytes, before %d", len(again), len(text))
	}
	press(t, ctx, do(`document.querySelector("#before-drop").click()`))
	page(t, ctx, `document.querySelector("#before").hidden ? "gone" : ""`, "gone")
}

// heldTrace reads what the page saved, as any recorded trace.
func heldTrace(t *testing.T, ctx context.Context, text string) {
	t.Helper()
	tr, err := tracefile.Read(strings.NewReader(text), tracefile.Options{})
	if err != nil {
		t.Fatalf("the saved file cannot be read: %v\n%.600s", err, text)
	}
	rows, err := chromedp.Run(ctx, chromedp.Evaluate[int](`soakline.figures().rows`))
	if err != nil || len(tr.Time) != rows || rows < 50 {
		t.Errorf("the file holds %d rows, the page %d (%v)", len(tr.Time), rows, err)
	}
	for _, role := range []telemetry.Role{telemetry.RoleDie, telemetry.RolePower, telemetry.RoleClock, telemetry.RoleAmbient, telemetry.RoleLongLimit} {
		if telemetry.IndexOf(tr.Channels, role) < 0 {
			t.Errorf("the file has no %s", role)
		}
	}
	if die := tr.Values[telemetry.IndexOf(tr.Channels, telemetry.RoleDie)]; die[0] < 20 || die[0] > 50 {
		t.Errorf("the die begins at %v degC, want near the rig's room of 22", die[0])
	}
	if !tr.Simulated || len(tr.Setup) < 3 {
		t.Errorf("simulated %v, setup %v", tr.Simulated, tr.Setup)
	}
	if n := len(tr.Marks); n != 2 || tr.Marks[0].Text != `panel = off, "really"` || tr.Marks[1].At != tr.Time[len(tr.Time)-1] {
		t.Errorf("marks %+v", tr.Marks)
	}
}
