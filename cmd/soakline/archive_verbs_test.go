package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// sure runs a verb that must succeed and gives what it printed.
func sure(t *testing.T, args ...string) string {
	t.Helper()
	status, out, errOut := soakline(t, args...)
	if status != 0 {
		t.Fatalf("%v: status %d: %s", args, status, errOut)
	}
	return out
}

// runFolder keeps the notes of running programs of a test apart.
func runFolder(t *testing.T) {
	t.Helper()
	t.Setenv("XDG_RUNTIME_DIR", t.TempDir())
}

// A session's life on the command line: named, pinned, deleted, brought back, removed.
func TestSessionsVerbs(t *testing.T) {
	archiveIn(t)
	runFolder(t)
	first := strings.TrimSpace(sure(t, "import", recording, "--name", "first"))
	second := strings.TrimSpace(sure(t, "import", recording, "--name", "second"))
	sure(t, "sessions", "rename", "first", "plate, first mount")
	if list := sure(t, "sessions", "first mount"); !strings.Contains(list, first) || strings.Contains(list, second) {
		t.Errorf("found %s", list)
	}
	sure(t, "sessions", "pin", first)
	if status, _, errOut := soakline(t, "sessions", "delete", first); status != 2 || !strings.Contains(errOut, "pinned") {
		t.Errorf("a pinned session: status %d, %s", status, errOut)
	}
	sure(t, "sessions", "delete", second)
	if list := sure(t, "sessions"); strings.Contains(list, second) || !strings.Contains(list, "pinned") {
		t.Errorf("the list shows %s", list)
	}
	if list := sure(t, "sessions", "--deleted"); !strings.Contains(list, second) {
		t.Errorf("deleted are %s", list)
	}
	sure(t, "sessions", "restore", "last")
	if got := sure(t, "sessions", "keep", "--size", "1kB"); !strings.Contains(got, "no more than 1.0 kB") || strings.Contains(got, first) {
		t.Errorf("keep says %s", got)
	}
	sure(t, "sessions", "delete", second)
	sure(t, "sessions", "tidy")
	if status, _, _ := soakline(t, "sessions", "restore", second); status != 2 {
		t.Errorf("what was tidied away came back: status %d", status)
	}
	sure(t, "export", first)
	for _, bad := range [][]string{{"keep", "--age", "5x"}, {"keep", "--size", "-1"}, {"delete", "20990101"}, {"rename", first}} {
		if status, _, errOut := soakline(t, append([]string{"sessions"}, bad...)...); status != 2 || errOut == "" {
			t.Errorf("%v: status %d, %q", bad, status, errOut)
		}
	}
}

// Marks, setup and score of a closed session are corrected; what stood there is shown.
func TestCorrectionsOfAClosedSession(t *testing.T) {
	archiveIn(t)
	runFolder(t)
	sure(t, "import", recording, "--name", "card")
	sure(t, "mark", "--session", "card", "--at", "62.5", "panel", "off")
	sure(t, "mark", "--session", "card", "--correct", "1", "panel on")
	sure(t, "setup", "--session", "card", "paste=factory")
	sure(t, "setup", "--session", "card", "paste=re-applied")
	sure(t, "score", "card", "1510", "--unit", "points", "--higher-is-better")
	sure(t, "score", "card", "1512.5", "--unit", "points", "--higher-is-better")
	shown := sure(t, "sessions", "show", "card")
	for _, want := range []string{"mark 1 at 62.5 s (user): panel on", `mark 1 was "panel off"`, "paste = re-applied", `setting paste was "factory"`,
		"score 1512.5 points, higher is better", `score score was "1510 points"`} {
		if !strings.Contains(shown, want) {
			t.Errorf("the session does not show %q:\n%s", want, shown)
		}
	}
	for _, bad := range [][]string{
		{"mark", "nothing runs"}, {"mark", "--session", "card", "no time"}, {"score", "card", "5"},
		{"score", "card", "5", "--higher-is-better", "--lower-is-better"}, {"setup", "paste"},
	} {
		if status, _, errOut := soakline(t, bad...); status != 2 || errOut == "" {
			t.Errorf("%v: status %d, %q", bad, status, errOut)
		}
	}
}

// The command that is recorded notes things in its own session, its score is read from
// its words, and the next session takes the setup over.
func TestRecordScoreMarkAndSetupLike(t *testing.T) {
	if _, err := os.Stat("/bin/sh"); err != nil {
		t.Skip("needs a shell to play the user's load")
	}
	archiveIn(t)
	runFolder(t)
	self := asProgram + "=1 " + os.Args[0]
	script := self + ` mark from the load && ` + self + ` setup paste=new && echo "Total: 12 points" && echo "Total: 1510.5 points" >&2`
	status, _, errOut := soakline(t, "record", "--rig", "fan-cooler", "--rest", "200ms", "--cool", "200ms", "--setup", "room=cellar",
		"--score", `Total: ([0-9.]+) (\w+)`, "--score-better", "higher", "--", "/bin/sh", "-c", script)
	if status != 0 || !strings.Contains(errOut, "score 1510.5 points, higher is better") && !strings.Contains(errOut, "score 12 points") {
		t.Fatalf("status %d: %s", status, errOut)
	}
	shown := sure(t, "sessions", "show", "last")
	for _, want := range []string{"(user): from the load", "paste = new", `setting paste was "factory"`, "room = cellar", "points, higher is better"} {
		if !strings.Contains(shown, want) {
			t.Errorf("the session does not show %q:\n%s", want, shown)
		}
	}
	status, _, errOut = soakline(t, "record", "--rig", "fan-cooler", "--for", "200ms", "--setup-like", "last")
	if status != 0 || !strings.Contains(errOut, "paste = factory, was new") {
		t.Errorf("status %d: %s", status, errOut)
	}
	if setup := sure(t, "setup", "--session", "last"); !strings.Contains(setup, "room = cellar") {
		t.Errorf("the setup was not taken over: %s", setup)
	}
	if left, _ := filepath.Glob(filepath.Join(os.Getenv("XDG_RUNTIME_DIR"), "soakline", "*")); len(left) != 0 {
		t.Errorf("a recording that ended left %v", left)
	}
}

func TestScorePattern(t *testing.T) {
	find := func(flags scoreFlags, pieces ...string) string {
		p, err := flags.pattern()
		if err != nil {
			t.Fatal(err)
		}
		f := &scoreFinder{flags: flags, pattern: p}
		w := &lineWriter{finder: f}
		for _, piece := range pieces {
			w.Write([]byte(piece))
		}
		w.flush()
		if f.found == nil {
			return ""
		}
		return scoreWords(*f.found)
	}
	flags := scoreFlags{Score: `in ([0-9.e-]+) ?(s|ms)?`, ScoreUnit: "s", ScoreBetter: "lower", ScoreName: "time"}
	for want, pieces := range map[string][]string{
		"":                              {"nothing here\n"},
		"time 41.5 s, lower is better":  {"done in 41", ".5", "\n"},
		"time 3 ms, lower is better":    {"done in 9 s\ndone in 3 ms\nbye"},
		"time 1e-05 s, lower is better": {"\rdone in 2\rdone in 1e-5"},
		"time 7 s, lower is better":     {"done in 7\ndone in 1.2.3\n"},
	} {
		if got := find(flags, pieces...); got != want {
			t.Errorf("%q gives %q, not %q", pieces, got, want)
		}
	}
	for _, bad := range []scoreFlags{{Score: "(", ScoreBetter: "higher"}, {Score: "Total", ScoreBetter: "higher"}, {Score: "(1)"}} {
		if _, err := bad.pattern(); err == nil {
			t.Errorf("%+v passed", bad)
		}
	}
}
