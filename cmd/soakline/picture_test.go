package main

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

var takePicture = flag.Bool("picture", false, "make the README's picture anew")

// TestPicture makes .github/page.png, which the README shows: the simulated machine
// with the plate mounted again, three minutes into its load.
func TestPicture(t *testing.T) {
	if !*takePicture {
		t.Skip("asked for by -picture only: it changes a committed file")
	}
	ctx := browser(t)
	p := start(t, "watch", "--rig", "plate-again", "--speed", "10", "--listen", "127.0.0.1:0", "--limit-c", "90")
	if err := chromedp.Do(ctx, theme("light"), chromedp.EmulateViewport(1280, 1060), chromedp.Navigate(p.URL)); err != nil {
		t.Fatal(err)
	}
	sayLine(t, ctx, 30*time.Second, "would carry")
	press(t, ctx, do(`document.querySelector("#welcome-no").click()`))
	if err := chromedp.Do(ctx, chromedp.Sleep(10*time.Second)); err != nil {
		t.Fatal(err)
	}
	png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join("..", "..", ".github", "page.png")
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, png, 0o644); err != nil {
		t.Fatal(err)
	}
	t.Logf("%s: %d KiB", path, len(png)/1024)
}
