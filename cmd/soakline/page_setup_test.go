package main

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// The last setup of the machine is offered to its next session: what is otherwise now is
// named, what was noted then is taken over with one press.
func TestPageOffersTheLastSetup(t *testing.T) {
	ctx := browser(t)
	data := filepath.Join(t.TempDir(), "sessions.db")
	if status, _, errOut := soakline(t, "--data", data, "record", "--rig", "fan-cooler", "--for", "500ms", "--setup", "lid=closed"); status != 0 {
		t.Fatal(errOut)
	}
	p := start(t, "--data", data, "watch", "--rig", "plate-again", "--listen", "127.0.0.1:0")
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(1280, 1700), chromedp.Navigate(p.URL), chromedp.WaitVisible("#last-setup")); err != nil {
		t.Fatal(err)
	}
	text, err := chromedp.Run(ctx, chromedp.Text("#last-setup"))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"cooler: sealed conduction plate, then fan cooler, as delivered", "lid: not noted yet, then closed"} {
		if !strings.Contains(text, want) {
			t.Errorf("the last setup reads %q, without %q", text, want)
		}
	}
	shoot(t, ctx, "last-setup-light")
	if err := chromedp.Do(ctx, chromedp.Click("#take-over")); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(10 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		setup, err := chromedp.Run(ctx, chromedp.Text("#setup"))
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(setup, "lid") && strings.Contains(setup, "closed") {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("the lid was not taken over: %q", setup)
		}
	}
}
