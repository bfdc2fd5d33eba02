package main

import (
	"context"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// tabOrder presses Tab until the focus comes round again and names what it met: the id,
// or the text; with "(unseen)" where nothing shows that it has the focus.
func tabOrder(t *testing.T, ctx context.Context) (met []string) {
	t.Helper()
	for range 80 {
		press(t, ctx, chromedp.KeyEvent("\t"))
		at, err := chromedp.Run(ctx, chromedp.Evaluate[string](`(() => { const e = document.activeElement, b = e.getBoundingClientRect();
			if (e === document.body) return "";
			const shown = e.checkVisibility() && b.width > 0 && (getComputedStyle(e).outlineStyle !== "none" || e.matches(".skip, canvas"));
			return (e.id || e.textContent.trim().slice(0, 30) || e.getAttribute("aria-label") || e.tagName) + (shown ? "" : " (unseen)"); })()`))
		if err != nil {
			t.Fatal(err)
		}
		if at == "" || len(met) > 1 && at == met[0] {
			return met
		}
		met = append(met, at)
	}
	t.Errorf("Tab never came round: %q", met)
	return met
}

// Everything by the keyboard alone: the first visit's tour, every control in the order in
// which it stands, a word explained, a line hidden and kept hidden, a reading listed.
func TestPageByKeyboardAlone(t *testing.T) {
	ctx := browser(t)
	path := filepath.Join(t.TempDir(), "seeded.db")
	ids := seed(t, path)
	p := start(t, "--data", path, "watch", "--rig", "plate-again", "--speed", "10", "--listen", "127.0.0.1:0", "--limit-c", "90")
	press(t, ctx, theme("light"), chromedp.Navigate(p.URL))
	sayLine(t, ctx, 10*time.Second, "W")
	page(t, ctx, textOf("#welcome"), "First time here?")
	audit(t, ctx, "first visit")

	met := tabOrder(t, ctx)
	for _, name := range met {
		if strings.HasSuffix(name, "(unseen)") {
			t.Errorf("the focus cannot be seen at %s", name)
		}
	}
	last := -1
	for _, want := range []string{"rig-setup", "far", "theme", "help-open", "welcome-yes", "welcome-no", "way-sessions", "lines-open", "readings-open", "earlier", "follow",
		"PL1 and PL2", "save-trace", "mark-text", "limit", "headroom", "setting-key", "setting-value"} {
		at := slices.Index(met, want)
		if at < 0 {
			t.Errorf("Tab never reaches %s: %q", want, met)
		} else if at < last {
			t.Errorf("Tab reaches %s too early: %q", want, met)
		}
		last = max(last, at)
	}

	// The tour, and that it does not come again.
	press(t, ctx, do(`document.querySelector("#welcome-yes").focus()`), chromedp.KeyEvent("\r"))
	for n, word := range []string{"sentences", "river", "ribbon", "Press m", "far view"} {
		if words := page(t, ctx, textOf("#tour-words"), word); words == "" {
			t.Errorf("step %d says nothing", n+1)
		}
		if n == 1 {
			audit(t, ctx, "tour")
		}
		press(t, ctx, chromedp.KeyEvent("\r"))
	}
	page(t, ctx, `document.querySelector("#tour").hidden ? "gone" : ""`, "gone")
	press(t, ctx, chromedp.Navigate(p.URL))
	sayLine(t, ctx, 10*time.Second, "W")
	page(t, ctx, `document.querySelector("#welcome").hidden ? "gone" : ""`, "gone")

	// A word, explained and closed again.
	press(t, ctx, do(`document.querySelector("[data-term=tau]").focus()`), chromedp.KeyEvent("\r"))
	page(t, ctx, textOf("#term"), "63 %")
	audit(t, ctx, "a word explained")
	press(t, ctx, chromedp.KeyEvent("\x1b"))
	page(t, ctx, `document.querySelector("#term").matches(":popover-open") ? "" : "closed"`, "closed")

	// A core's line is added, kept over a reload, and every reading is listed.
	lines := `soakline.lines().join()`
	press(t, ctx, chromedp.KeyEvent("l"), do(`document.querySelector('#lines-list input:not(:disabled):not(:checked)').focus()`), chromedp.KeyEvent(" "), chromedp.KeyEvent("\x1b"))
	page(t, ctx, lines, "core 0 temperature")
	press(t, ctx, chromedp.Navigate(p.URL))
	sayLine(t, ctx, 10*time.Second, "W")
	page(t, ctx, lines, "core 0 temperature")
	press(t, ctx, chromedp.KeyEvent("v"))
	page(t, ctx, textOf("#readings"), "power limit time constant")
	press(t, ctx, chromedp.KeyEvent("v"))

	// A kept session's stair stands before that of an earlier one of the same machine.
	press(t, ctx, do(`location.hash = "#session=`+ids["plate-again"]+`"`))
	page(t, ctx, textOf("#stair"), "Dashed:")
	page(t, ctx, `String(document.querySelectorAll("#stair .step-outline").length)`, "1")
	if words := page(t, ctx, textOf("#stair"), "of the rise is lost near the die"); !strings.Contains(words, "K/W") {
		t.Errorf("the stair says %q", words)
	}
	whole(t, ctx, "view-stair-outline")
	audit(t, ctx, "stair with an outline")
}
