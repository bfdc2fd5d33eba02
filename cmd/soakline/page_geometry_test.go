package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// geometry lists what lies outside the window, is cut off, or covers another thing of the
// same kind. It looks at what is to be read or pressed, not at what is drawn.
const geometry = `(() => {
	scrollTo(0, 0);
	const faults = [], seen = e => e.checkVisibility() && e.getClientRects().length > 0 && !e.closest(".unseen, .skip, :popover-open");
	const name = e => (e.id ? "#" + e.id : e.tagName.toLowerCase() + "." + e.className) + " '" + (e.textContent || "").trim().slice(0, 24) + "'";
	const open = document.querySelector("dialog[open]");
	const all = q => [...(open ?? document).querySelectorAll(q)].filter(seen);
	for (const e of all("h1, h2, h3, button, a, input, select, label, .sentence, .figure, .figure-number, .figure-under, .legend li, .marks li, dt, dd, .facts li, #banner, #alarm, #simulated, figcaption, summary, .reading-name, .reading-value")) {
		const b = e.getBoundingClientRect();
		if (b.left < -1 || b.right > innerWidth + 1) faults.push("outside: " + name(e) + " " + Math.round(b.left) + ".." + Math.round(b.right));
		const s = getComputedStyle(e);
		if (s.display !== "inline" && s.overflowX === "visible" && e.scrollWidth > e.clientWidth + 2 && e.clientWidth > 0 && !e.matches("select, input")) faults.push("cut: " + name(e) + " " + e.scrollWidth + " > " + e.clientWidth);
	}
	for (const group of [".head > *", ".tools > *", ".river-bar > *", ".spans > *", ".figure", ".sentence", ".bench > *", ".legend > li", ".status > *, .status li", ".head, #banner, #alarm, .way, main, .status", "#leave-far, #full, .simulated", ".camera .say, .camera .figures, .camera .ribbon", ".tour > *", ".readings li > *"]) {
		const boxes = all(group).map(e => [e, e.getBoundingClientRect()]).filter(([, b]) => b.width > 0 && b.height > 0);
		boxes.forEach(([e, a], i) => boxes.slice(i + 1).forEach(([f, b]) => {
			if (e.contains(f) || f.contains(e)) return;
			if (a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 1 && b.top < a.bottom - 1) faults.push("overlap: " + name(e) + " and " + name(f));
		}));
	}
	return faults.slice(0, 8).join("\n");
})()`

// view is one way to look at the page: what to do to get there, and back.
type view struct {
	name      string
	way, back []chromedp.Action[chromedp.Void]
}

var views = []view{
	{name: "now"},
	{name: "far", way: []chromedp.Action[chromedp.Void]{chromedp.KeyEvent("f")}, back: []chromedp.Action[chromedp.Void]{chromedp.KeyEvent("f")}},
	{name: "readings", way: []chromedp.Action[chromedp.Void]{chromedp.KeyEvent("v")}, back: []chromedp.Action[chromedp.Void]{chromedp.KeyEvent("v")}},
	{name: "lines", way: []chromedp.Action[chromedp.Void]{chromedp.KeyEvent("l")}, back: []chromedp.Action[chromedp.Void]{do(`document.querySelector("#lines").close()`)}},
	{name: "help", way: []chromedp.Action[chromedp.Void]{chromedp.KeyEvent("?")}, back: []chromedp.Action[chromedp.Void]{do(`document.querySelector("#help").close()`)}},
	{name: "words", way: []chromedp.Action[chromedp.Void]{chromedp.KeyEvent("?"), do(`document.querySelector("#glossary").open = true`)},
		back: []chromedp.Action[chromedp.Void]{do(`document.querySelector("#glossary").open = false; document.querySelector("#help").close()`)}},
	{name: "tour", way: []chromedp.Action[chromedp.Void]{do(`document.querySelector("#welcome-yes").click()`), chromedp.KeyEvent("\r"), chromedp.KeyEvent("\r"), chromedp.KeyEvent("\r")},
		back: []chromedp.Action[chromedp.Void]{chromedp.KeyEvent("\x1b")}},
	{name: "alarms", way: []chromedp.Action[chromedp.Void]{do(`document.querySelector("#alarms").open = true`)}, back: []chromedp.Action[chromedp.Void]{do(`document.querySelector("#alarms").open = false`)}},
}

var sizes = []struct {
	name, theme   string
	width, height int64
}{
	{"360-dark", "dark", 360, 740}, {"768-light", "light", 768, 1024}, {"1280-light", "light", 1280, 900}, {"1280-dark", "dark", 1280, 900}, {"2560-light", "light", 2560, 1440},
}

// inspect holds what the tab shows to the geometry, and keeps a picture of it.
func inspect(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	for _, l := range sizes {
		press(t, ctx, theme(l.theme), chromedp.EmulateViewport(l.width, l.height), chromedp.Sleep(120*time.Millisecond))
		faults, err := chromedp.Run(ctx, chromedp.Evaluate[string](geometry))
		if err != nil {
			t.Fatal(err)
		}
		if faults != "" {
			t.Errorf("%s at %s:\n%s", name, l.name, faults)
		}
		over, err := chromedp.Run(ctx, chromedp.Evaluate[float64](`document.documentElement.scrollWidth - innerWidth`))
		if err != nil || over > 0 {
			t.Errorf("%s at %s: %.0f px wider than the window (%v)", name, l.name, over, err)
		}
		if l.width == 1280 {
			audit(t, ctx, name+" "+l.theme)
		}
		whole(t, ctx, "view-"+name+"-"+l.name)
	}
}

// whole keeps a picture of the whole page, below the window too.
func whole(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	dir := os.Getenv("SOAKLINE_SHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// Every view in every size and theme: nothing cut, covered or outside, and nothing that
// the rules of WCAG 2.2 A and AA find wrong.
func TestPageViewsHoldTogether(t *testing.T) {
	ctx := browser(t)
	p := start(t, "watch", "--rig", "plate-first", "--speed", "10", "--listen", "127.0.0.1:0", "--limit-c", "90")
	press(t, ctx, theme("light"), chromedp.Navigate(p.URL))
	sayLine(t, ctx, 30*time.Second, "would carry")
	for _, v := range views {
		press(t, ctx, chromedp.EmulateViewport(1280, 900))
		press(t, ctx, v.way...)
		inspect(t, ctx, v.name)
		press(t, ctx, v.back...)
	}
	press(t, ctx, chromedp.Navigate(strings.TrimSuffix(p.URL, "/")+"/?camera"))
	sayLine(t, ctx, 10*time.Second, "W")
	if clear, err := chromedp.Run(ctx, chromedp.Evaluate[string](`getComputedStyle(document.body).backgroundColor + getComputedStyle(document.documentElement).backgroundColor`)); err != nil || clear != "rgba(0, 0, 0, 0)rgba(0, 0, 0, 0)" {
		t.Errorf("the camera view stands on %s (%v), want nothing", clear, err)
	}
	inspect(t, ctx, "camera")
}
