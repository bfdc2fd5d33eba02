package main

import (
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

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
