package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"soakline/web"
)

// need skips a test that lacks a tool, or fails it where the environment promises that
// tool (CI sets NEED_BROWSER=1).
func need(t testing.TB, why string) {
	t.Helper()
	if os.Getenv("NEED_BROWSER") == "1" {
		t.Fatal(why)
	}
	t.Skip(why)
}

// browser gives a fresh tab in headless Chromium.
func browser(t testing.TB) context.Context {
	t.Helper()
	if err := web.Check(); err != nil {
		need(t, err.Error())
	}
	path := os.Getenv("CHROME")
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path == "" {
			path, _ = exec.LookPath(name)
		}
	}
	if path == "" {
		need(t, "no Chromium found: install it or set CHROME to its path")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-sync", true))
	ctx, cancel := context.WithTimeout(context.Background(), 3*time.Minute)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewExecAllocator(ctx, opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(func() { chromedp.Cancel(ctx); cancel() })
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(1280, 900)); err != nil {
		t.Fatal(err)
	}
	return ctx
}

// theme makes the tab ask for a light or dark page.
func theme(name string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}})
		return err
	})
}

// shoot keeps a picture of the tab where SOAKLINE_SHOTS says, for people to look at.
func shoot(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	dir := os.Getenv("SOAKLINE_SHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		t.Fatal(err)
	}
}

// program is a soakline that runs inside the test.
type program struct {
	URL  string
	stop context.CancelFunc
	done chan int
	out  *output
}

// start runs soakline with args and waits for the address that it prints.
func start(t testing.TB, args ...string) *program {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	p := &program{stop: cancel, done: make(chan int, 1), out: &output{}}
	t.Setenv("SOAKLINE_DATA", filepath.Join(t.TempDir(), "sessions.db"))
	go func() { p.done <- run(ctx, args, p.out, p.out) }()
	t.Cleanup(func() { p.Stop(t) })
	deadline := time.Now().Add(20 * time.Second)
	for time.Now().Before(deadline) {
		if m := address.FindString(p.out.String()); m != "" {
			p.URL = m
			return p
		}
		select {
		case code := <-p.done:
			p.done <- code
			t.Fatalf("soakline %s ended with status %d: %s", strings.Join(args, " "), code, p.out)
		case <-time.After(20 * time.Millisecond):
		}
	}
	t.Fatalf("soakline %s printed no address: %s", strings.Join(args, " "), p.out)
	return nil
}

var address = regexp.MustCompile(`http://127\.0\.0\.1:\d+/?`)

// Stop ends the program as Ctrl-C would and gives its exit status.
func (p *program) Stop(t testing.TB) int {
	t.Helper()
	p.stop()
	select {
	case code := <-p.done:
		p.done <- code
		return code
	case <-time.After(20 * time.Second):
		t.Fatalf("soakline did not stop: %s", p.out)
		return -1
	}
}

// output is a buffer that two goroutines may use.
type output struct {
	mu sync.Mutex
	b  strings.Builder
}

func (o *output) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.b.Write(p)
}

func (o *output) String() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.b.String()
}
