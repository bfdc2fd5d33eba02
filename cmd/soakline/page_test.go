package main

import (
	"context"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// sayLine waits until the say-line holds one of the words and gives its text.
func sayLine(t *testing.T, ctx context.Context, within time.Duration, words ...string) string {
	t.Helper()
	var text string
	for end := time.Now().Add(within); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		var err error
		if text, err = chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector("#sentences")?.textContent ?? ""`)); err != nil {
			t.Fatal(err)
		}
		for _, w := range words {
			if strings.Contains(text, w) {
				return text
			}
		}
	}
	at, _ := chromedp.Run(ctx, chromedp.Evaluate[string](`location.href + " " + document.readyState + " " + document.body?.innerText.slice(0, 200)`))
	t.Fatalf("the say-line never held one of %q; it says %q on %s", words, text, at)
	return ""
}

// drawn is what a lane of the river draws, as the page tells its tests.
type drawn struct {
	ID     string  `json:"id"`
	Points int     `json:"points"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
}

// The demonstration, watched as a user would: the machine rests, bursts to its
// short-term limit, lands on its long-term limit and says so. Every limit here is the
// rig's own statement (28 W, 64 W): the page must find them from the trace.
func TestPageFollowsTheRigThroughItsBurst(t *testing.T) {
	ctx := browser(t)
	p := start(t, "watch", "--rig", "plate-again", "--speed", "10", "--listen", "127.0.0.1:0", "--limit-c", "90")
	began := time.Now()
	if err := chromedp.Do(ctx, theme("light"), chromedp.Navigate(p.URL)); err != nil {
		t.Fatal(err)
	}
	sayLine(t, ctx, 10*time.Second, "W")
	t.Logf("the page spoke %.1f s after the program", time.Since(began).Seconds())

	held := sayLine(t, ctx, 20*time.Second, "by the long-term power limit since")
	if !landed.MatchString(held) {
		t.Errorf("say-line %q does not say that the power landed on 28 W", held)
	}
	time.Sleep(3 * time.Second) // 30 s of the rig's time: the river has something to show
	shoot(t, ctx, "desktop-light")

	if simulated, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`!document.querySelector("#simulated").hidden`)); err != nil || !simulated {
		t.Errorf("a simulated machine is not stated as such: %v %v", simulated, err)
	}
	power := lane(t, ctx, "power")
	if power.Points < 100 || power.High < 60 || power.Low > 8 {
		t.Errorf("the power lane draws %d points on %.1f to %.1f W, want the burst of 64 W above a rest of about 5 W", power.Points, power.Low, power.High)
	}
	die := lane(t, ctx, "temperature")
	if die.Points < 100 || die.Low > 30 || die.High < 40 {
		t.Errorf("the temperature lane draws %d points on %.1f to %.1f degC, want a die that warms from the room's 22 degC", die.Points, die.Low, die.High)
	}
	kinds, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector("#legend").textContent`))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"hort-term", "ong-term"} {
		if !strings.Contains(kinds, want) {
			t.Errorf("the ribbon's legend %q does not show %q", kinds, want)
		}
	}
	looks(t, ctx)
	if status := p.Stop(t); status != 0 {
		t.Errorf("ended with status %d: %s", status, p.out)
	}
}

// landed is the rig's long-term limit of 28 W, within 2 %, as the say-line writes it.
var landed = regexp.MustCompile(`at (27\.[5-9]|28\.[0-5]?)\d?[\s\x{a0}\x{202f}]*W`)

// lane gives what one lane draws.
func lane(t *testing.T, ctx context.Context, id string) drawn {
	t.Helper()
	all, err := chromedp.Run(ctx, chromedp.Evaluate[[]drawn](`soakline.lanes()`))
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range all {
		if d.ID == id {
			return d
		}
	}
	t.Fatalf("there is no lane %q: %v", id, all)
	return drawn{}
}

// looks photographs the other sizes and themes.
func looks(t *testing.T, ctx context.Context) {
	for _, l := range []struct {
		name, theme   string
		width, height int64
		key           string
	}{
		{"desktop-dark", "dark", 1280, 900, ""},
		{"tablet-light", "light", 768, 1024, ""},
		{"phone-dark", "dark", 360, 740, ""},
		{"wide-light", "light", 2560, 1440, ""},
		{"far-dark", "dark", 1920, 1080, "f"},
	} {
		steps := []chromedp.Action[chromedp.Void]{theme(l.theme), chromedp.EmulateViewport(l.width, l.height)}
		if l.key != "" {
			steps = append(steps, chromedp.KeyEvent(l.key))
		}
		steps = append(steps, chromedp.Sleep(700*time.Millisecond))
		if err := chromedp.Do(ctx, steps...); err != nil {
			t.Fatal(err)
		}
		over, err := chromedp.Run(ctx, chromedp.Evaluate[float64](`document.documentElement.scrollWidth - innerWidth`))
		if err != nil {
			t.Fatal(err)
		}
		if over > 0 {
			t.Errorf("%s: the page is %.0f px wider than the window", l.name, over)
		}
		shoot(t, ctx, l.name)
	}
}
