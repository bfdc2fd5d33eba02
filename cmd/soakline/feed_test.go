package main

import (
	"bytes"
	"context"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"soakline/collector/telemetry"
)

// sender is a file to which a test writes lines.
func sender(t *testing.T) (spec string, say func(text string)) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "instrument")
	if err := os.WriteFile(path, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	return "file: " + path, func(text string) {
		t.Helper()
		f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if _, err := f.WriteString(text); err != nil {
			t.Fatal(err)
		}
	}
}

// keepSaying repeats lines until the test ends, from the moment on that somebody may look.
func keepSaying(t *testing.T, say func(string), text string) {
	done, over := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(over)
		for {
			select {
			case <-done:
				return
			case <-time.After(20 * time.Millisecond):
				say(text)
			}
		}
	}()
	t.Cleanup(func() { close(done); <-over })
}

// What arrives is listed with unit, role and rate, and what is refused with its reason.
func TestFeedCheck(t *testing.T) {
	spec, say := sender(t)
	keepSaying(t, say, "\"coolant in\" 24.31 degC\nspeed 3 furlong\n")
	status, out, errOut := soakline(t, "feed", "check", spec, "--for", "700ms")
	if status != 0 {
		t.Fatalf("status %d: %s", status, errOut)
	}
	for _, want := range []string{`coolant in +ambient +24\.31 +degC +\d+ +\d+(\.\d+)?/s`, `\d+ x speed: unit "furlong" is not known; known are %`, `\n      speed 3 furlong\n`} {
		if !regexp.MustCompile(want).MatchString(out) {
			t.Errorf("no %s in:\n%s", want, out)
		}
	}
	spec, _ = sender(t)
	if status, _, errOut := soakline(t, "feed", "check", spec, "--for", "10ms"); status != 1 || !strings.Contains(errOut, "no reading came") {
		t.Errorf("status %d: %s", status, errOut)
	}
	for _, spec := range []string{"smoke: signals", "tcp: 0.0.0.0:7000", "push:"} {
		if status, _, errOut := soakline(t, "feed", "check", spec); status != 2 || errOut == "" {
			t.Errorf("%s: status %d: %s", spec, status, errOut)
		}
	}
}

// An instrument's channel stands in the session beside those of the machine, under its
// own key, with the role that its name suggests.
func TestRecordWithAnInstrument(t *testing.T) {
	archiveIn(t)
	spec, say := sender(t)
	keepSaying(t, say, "\"coolant in\" 24.31 degC\nflow 1.2 L/min\n")
	if status, _, errOut := soakline(t, "record", "--rig", "plate-again", "--for", "500ms", "--feed", spec); status != 0 {
		t.Fatalf("status %d: %s", status, errOut)
	}
	store, err := (&cli{}).open(&env{})
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	tr, err := store.Load(t.Context(), "last")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []struct {
		key   string
		role  telemetry.Role
		value float64
	}{{"feed/coolant in", telemetry.RoleAmbient, 24.31}, {"feed/flow", telemetry.RoleNone, 1.2}} {
		found := false
		for c, ch := range tr.Channels {
			if ch.Key != want.key {
				continue
			}
			found = true
			last := tr.Values[c][len(tr.Time)-1]
			if ch.Role != want.role || last < want.value-1e-5 || last > want.value+1e-5 || ch.Simulated {
				t.Errorf("%+v ends at %v", ch, last)
			}
		}
		if !found {
			t.Errorf("no channel %q", want.key)
		}
	}
}

// The command that the program prints is all that pushing needs.
func TestPushedLines(t *testing.T) {
	archiveIn(t)
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var out output
	done := make(chan int, 1)
	go func() { done <- run(ctx, []string{"record", "--rig", "plate-again", "--feed", "push:"}, &out, &out) }()
	how := regexp.MustCompile(`-H 'X-Soakline-Token: (\S+)' --data-binary @- (http://\S+)`)
	waitFor(t, &out, func(text string) bool { return how.MatchString(text) })
	said := how.FindStringSubmatch(out.String())
	push := func(token, body string) int {
		r, err := http.NewRequest("POST", said[2], bytes.NewBufferString(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("X-Soakline-Token", token)
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		return answer.StatusCode
	}
	if s := push(said[1], "flow 1.2 L/min\n"); s != http.StatusOK {
		t.Errorf("status %d", s)
	}
	if s := push("guessed", "flow 9 L/min\n"); s != http.StatusForbidden {
		t.Errorf("status %d without the token", s)
	}
	if s := push(said[1], "speed 9 furlong\n"); s != http.StatusBadRequest {
		t.Errorf("status %d for a unit that is not known", s)
	}
	waitFor(t, &out, func(text string) bool { return strings.Contains(text, `source=feed status=running "new channels"=1`) })
	stop()
	if s := <-done; s != 0 {
		t.Errorf("status %d: %s", s, &out)
	}
}
