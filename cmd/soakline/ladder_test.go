package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The ladder of three files in its forms: words, Markdown, CSV, JSON and a picture; and of
// sessions, found by text, in the order in which they began.
func TestLadder(t *testing.T) {
	archiveIn(t)
	runFolder(t)
	fan, first, again := rigFile(t, "fan-cooler", 1), rigFile(t, "plate-first", 2), rigFile(t, "plate-again", 3)
	drawn := filepath.Join(t.TempDir(), "ladder.svg")
	words := sure(t, "ladder", fan, first, again, "--svg", drawn)
	if !strings.Contains(words, "The contact of B is poor") || !strings.Contains(words, "SIMULATED") {
		t.Errorf("the ladder says %s", words)
	}
	if b, err := os.ReadFile(drawn); err != nil || !strings.HasPrefix(string(b), "<svg") {
		t.Errorf("the picture: %v", err)
	}
	var l struct {
		Schema string
		Stock  int
		Rungs  []struct{ Letter string }
	}
	if err := json.Unmarshal([]byte(sure(t, "ladder", fan, again, "--json", "--stock", "plate")), &l); err != nil || l.Schema != "soakline.ladder/1" || len(l.Rungs) != 2 || l.Stock != 1 {
		t.Errorf("%v %+v", err, l)
	}
	for _, name := range []string{fan, first, again} {
		sure(t, "import", name, "--name", "series "+filepath.Base(name))
	}
	if out := sure(t, "ladder", "--find", "plate", "--csv"); !strings.HasPrefix(out, "setup,name,stock") || strings.Contains(out, "fan-cooler") || !strings.Contains(out, "\nB,") {
		t.Errorf("by text: %s", out)
	}
	for _, bad := range [][]string{{"--find", "nothing such"}, {fan, "--stock", "water"}, {fan, "--json", "--csv"}, {"--machine", "another"}} {
		if status, _, errOut := soakline(t, append([]string{"ladder"}, bad...)...); status != 2 || errOut == "" {
			t.Errorf("%v: status %d, %q", bad, status, errOut)
		}
	}
}

// What comes next is listed with its caution; the plate's first mount is told against the fan cooler.
func TestNext(t *testing.T) {
	fan, first := rigFile(t, "fan-cooler", 1), rigFile(t, "plate-first", 2)
	if out := sure(t, "next", fan, "--limit-c", "90"); !strings.Contains(out, "1. Where the maker allows it, the long-term power limit may rise") || !strings.Contains(out, "caution: The maker's limits") {
		t.Errorf("fan cooler: %s", out)
	}
	var l struct {
		Schema  string
		Entries []struct{ Rule string }
	}
	if err := json.Unmarshal([]byte(sure(t, "next", first, "--against", fan, "--limit-c", "90", "--json")), &l); err != nil || l.Schema != "soakline.next/1" {
		t.Fatal(err)
	}
	if len(l.Entries) == 0 || l.Entries[0].Rule != "contact got worse" {
		t.Errorf("first mount: %+v", l.Entries)
	}
	if status, _, errOut := soakline(t, "next", "nowhere.csv"); status != 2 || errOut == "" {
		t.Errorf("status %d, %q", status, errOut)
	}
}
