package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func file(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// A file of other make: what is guessed is told, a mapping says what cannot be guessed, and
// the next file with that header is read alike without being told.
func TestImportForeign(t *testing.T) {
	archiveIn(t)
	text := "Uhr;Pkg;Chip;Serial\n20:15:00;5500,5;41;x\n20:15:01;6000;42;x\n"
	path := file(t, "log.csv", text)
	if status, out, errOut := soakline(t, "import", path); status != 2 || out != "" || !strings.Contains(errOut, "a column of time") {
		t.Errorf("status %d, %q, %s", status, out, errOut)
	}
	flags := []string{"import", path, "--map", "Uhr=time", "--map", "Pkg=package power [mW]", "--map", "Chip=die temp", "--map", "Serial=-"}
	status, _, errOut := soakline(t, flags...)
	if status != 0 || !strings.Contains(errOut, `"die temp" says no unit: read as temperature, in degC`) {
		t.Fatalf("status %d: %s", status, errOut)
	}
	want := "time [s],package power [W],die temp [degC]\n0,5.5005,41\n1,6,42\n"
	if csv := sure(t, "export", "last"); !strings.HasSuffix(csv, want) {
		t.Errorf("it became\n%s, not\n%s", csv, want)
	}
	again := file(t, "tuesday.csv", strings.ReplaceAll(text, "41", "43"))
	status, _, errOut = soakline(t, "import", again)
	if status != 0 || !strings.Contains(errOut, "remembered") {
		t.Fatalf("status %d: %s", status, errOut)
	}
	if csv := sure(t, "export", "last"); !strings.Contains(csv, "0,5.5005,43") {
		t.Errorf("the second file became\n%s", csv)
	}
	if status, _, errOut = soakline(t, "import", again, "--forget"); status != 2 || !strings.Contains(errOut, "a column of time") {
		t.Errorf("status %d: %s", status, errOut)
	}
	for _, bad := range [][]string{{"--map", "nonsense"}, {"--map", "Nothing=x [W]"}, {"--offset", "x=1s"}, {"--header-line", "99"}, {"--map-file", "not there"}, {"--dates", "year-first"}} {
		if status, out, errOut := soakline(t, append([]string{"import", path}, bad...)...); status != 2 || out != "" || errOut == "" {
			t.Errorf("%v: status %d, %q, %q", bad, status, out, errOut)
		}
	}
}

// Two loggers that ran beside one another become one session on one clock.
func TestImportMerged(t *testing.T) {
	archiveIn(t)
	a := file(t, "chip.csv", "time [s],die temperature [degC]\n0,41\n1,42\n2,43\n")
	b := file(t, "meter.csv", "time [s],W\n0,60\n1,61\n")
	out := sure(t, "import", a, b, "--offset", "meter=0.5s", "--map", "meter:W=wall power [W]", "--name", "both")
	csv := sure(t, "export", strings.TrimSpace(out))
	want := "time [s],die temperature [degC],wall power [W]\n0,41,\n0.5,41,60\n1,42,60\n1.5,42,61\n2,43,61\n"
	if !strings.HasSuffix(csv, want) {
		t.Errorf("it became\n%s, not\n%s", csv, want)
	}
	broken := file(t, "broken.csv", "time [s],W\n0,60\n1,x\n")
	before := sure(t, "sessions")
	if status, _, errOut := soakline(t, "import", a, broken); status != 2 || !strings.Contains(errOut, "broken.csv:3:3") {
		t.Errorf("status %d: %s", status, errOut)
	}
	if after := sure(t, "sessions"); after != before {
		t.Errorf("a broken file left something: %s", after)
	}
}
