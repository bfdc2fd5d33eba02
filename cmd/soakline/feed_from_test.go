package main

import (
	"context"
	"io"
	"math"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/collector/archive"
	"soakline/collector/telemetry"
	"soakline/server/wire"
	"soakline/web"
)

// machineUnderTest is a soakline in a process of its own, watching the simulated machine.
func machineUnderTest(t *testing.T) (p *os.Process, url string) {
	t.Helper()
	if err := web.Check(); err != nil {
		t.Skip("the other computer needs its page: ", err)
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	var out output
	cmd := exec.Command(self, "watch", "--rig", "plate-again", "--speed", "10", "--listen", "127.0.0.1:0", "--no-keep")
	cmd.Env = append(os.Environ(), asProgram+"=1")
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
	})
	waitFor(t, &out, func(text string) bool { url = address.FindString(text); return url != "" })
	return cmd.Process, url
}

func waitFor(t *testing.T, out *output, ok func(string) bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); !ok(out.String()); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited in vain; it says: %s", out)
		}
	}
}

// rowsOf asks a running soakline for the rows that it holds.
func rowsOf(t *testing.T, url string) (rows []telemetry.Row) {
	t.Helper()
	answer, err := http.Get(strings.TrimSuffix(url, "/") + "/api/rows?after=0")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	for len(body) > 0 {
		var msg []byte
		if msg, body, err = wire.NextSized(body); err != nil {
			t.Fatal(err)
		}
		var r telemetry.Row
		if _, err := wire.DecodeRow(msg, &r); err != nil {
			t.Fatal(err)
		}
		rows = append(rows, r)
	}
	return rows
}

// The machine under test dies without a word; what it measured up to then is in the
// archive of the bench computer, row by row and at its own times, then gaps that say why.
func TestBenchComputerKeepsWhatTheOtherMeasured(t *testing.T) {
	there, url := machineUnderTest(t)
	path := filepath.Join(t.TempDir(), "bench.db")
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var out output
	done := make(chan int, 1)
	go func() { done <- run(ctx, []string{"--data", path, "record", "--from", url}, &out, &out) }()
	waitFor(t, &out, func(text string) bool { return strings.Contains(text, "recording 18 channels") })
	began := len(rowsOf(t, url))
	var sent []telemetry.Row
	for len(sent) < began+100 {
		sent = rowsOf(t, url)
		time.Sleep(20 * time.Millisecond)
	}
	if err := there.Kill(); err != nil { // SIGKILL
		t.Fatal(err)
	}
	waitFor(t, &out, func(text string) bool { return strings.Contains(text, "no contact with the other computer") })
	time.Sleep(4 * time.Second) // the patience of the link and a few gaps
	stop()
	if status := <-done; status != 0 {
		t.Fatalf("status %d: %s", status, &out)
	}
	store, err := archive.Open(path, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	kept, err := store.Load(t.Context(), "last")
	if err != nil {
		t.Fatal(err)
	}
	compareRows(t, kept, sent)

	last := len(kept.Time) - 1
	for c := range kept.Channels {
		if s := kept.StateAt(c, last); s != telemetry.GapSilent || !math.IsNaN(kept.Values[c][last]) {
			t.Errorf("%s: %v, %q in the last row", kept.Channels[c].Name, kept.Values[c][last], s.Reason())
		}
	}
	if len(kept.Marks) != 1 || !strings.Contains(kept.Marks[0].Text, "contact lost") {
		t.Errorf("marks %+v", kept.Marks)
	}
}

// compareRows checks that kept holds rows from its beginning on, without a hole, at the
// same times from one another.
func compareRows(t *testing.T, kept *telemetry.Trace, rows []telemetry.Row) {
	t.Helper()
	same := func(i int, r telemetry.Row) bool {
		for c, v := range r.Values {
			if float32(v) != float32(kept.Values[c][i]) && !(math.IsNaN(v) && math.IsNaN(kept.Values[c][i])) || kept.StateAt(c, i) != r.States[c] {
				return false
			}
		}
		return true
	}
	first := 0
	for first < len(rows) && !same(0, rows[first]) {
		first++
	}
	if n := len(rows) - first; n < 100 {
		t.Fatalf("%d rows to compare", n)
	}
	for i, r := range rows[first:] {
		if i >= len(kept.Time) || !same(i, r) || math.Abs(kept.Time[i]-(r.At-rows[first].At)) > 1e-6 {
			t.Fatalf("row %d, at %.1f s there, is not what was kept", r.Seq, r.At)
		}
	}
	t.Logf("%d rows of %d, to the last at %.1f s, compared", len(rows)-first, len(rows), rows[len(rows)-1].At)
}

func TestFromNobody(t *testing.T) {
	archiveIn(t)
	status, _, errOut := soakline(t, "record", "--from", "127.0.0.1:1", "--for", "1s")
	if status != 1 || !strings.Contains(errOut, "no soakline answers") || !strings.Contains(errOut, "--listen") {
		t.Errorf("status %d: %s", status, errOut)
	}
}
