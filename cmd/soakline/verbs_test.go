package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// recording is the real recording of an accelerator card under full load, its asked
// load in the last column; its power limit is stated in its first line: 700 W.
var recording = filepath.Join("..", "..", "testdata", "traces", "accelerator-full-load.csv")

// soakline runs a verb as main does and gives what it printed.
func soakline(t *testing.T, args ...string) (status int, out, errOut string) {
	t.Helper()
	var o, e bytes.Buffer
	status = run(context.Background(), args, &o, &e)
	return status, o.String(), e.String()
}

// archiveIn keeps the sessions of a test apart.
func archiveIn(t *testing.T) {
	t.Helper()
	t.Setenv("SOAKLINE_DATA", filepath.Join(t.TempDir(), "sessions.db"))
}

type analysed struct {
	Schema   string
	Channels []struct{ Name, Unit string }
	Load     []struct {
		Start float64 `json:"start_s"`
		End   float64 `json:"end_s"`
	}
	Limiter []struct {
		Start      float64 `json:"start_s"`
		End        float64 `json:"end_s"`
		Kind       string
		Source     string
		Confidence float64
	}
	Steady struct {
		Reached bool
		PowerW  float64 `json:"power_w"`
	}
}

// The main job on the first real input, as its user would run it, without the card's
// own reason bits. What was asked of the card stands in the recording's last column.
func TestAnalyzeRealRecording(t *testing.T) {
	status, out, errOut := soakline(t, "analyze", recording, "--json", "--ignore-reasons")
	if status != 0 {
		t.Fatalf("status %d: %s", status, errOut)
	}
	var r analysed
	if err := json.Unmarshal([]byte(out), &r); err != nil {
		t.Fatal(err)
	}
	asked := []struct{ start, end float64 }{{45, 285}, {385, 425}}
	if len(r.Load) != len(asked) {
		t.Fatalf("%d load spans %v, asked were %v", len(r.Load), r.Load, asked)
	}
	for i, a := range asked {
		if math.Abs(r.Load[i].Start-a.start) > 0.5 || math.Abs(r.Load[i].End-a.end) > 0.5 {
			t.Errorf("load %d from %.2f to %.2f s, asked from %.1f to %.1f", i, r.Load[i].Start, r.Load[i].End, a.start, a.end)
		}
	}
	if math.Abs(r.Steady.PowerW-700) > 7 {
		t.Errorf("power under full load %.1f W, the card's limit is 700 W", r.Steady.PowerW)
	}
	held := 0.0
	for _, s := range r.Limiter {
		if s.Source != "inferred" {
			t.Errorf("span at %.1f s is %s although the reasons were to be ignored", s.Start, s.Source)
		}
		if s.Kind == "power-long" {
			held += max(0, min(s.End, 285)-max(s.Start, 45))
		}
	}
	if share := held / 240; share < 0.95 {
		t.Errorf("power-long for %.1f %% of the full load, want at least 95 %%", 100*share)
	}
}

// The fields of contract part 2 are all there, null where unknown, never left out.
func TestAnalyzeJSONHasEveryField(t *testing.T) {
	file := filepath.Join(t.TempDir(), "short.csv")
	if err := os.WriteFile(file, []byte("time [s],package power [W]\n0,5\n1,5\n2,5\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	status, out, errOut := soakline(t, "analyze", file, "--json")
	if status != 0 {
		t.Fatalf("status %d: %s", status, errOut)
	}
	var r map[string]any
	if err := json.Unmarshal([]byte(out), &r); err != nil {
		t.Fatal(err)
	}
	for path, null := range map[string]bool{
		"schema": false, "channels": false, "load": false, "limiter": false, "power_step.found": false,
		"power_step.time_s": true, "power_step.short_w": true, "power_step.long_w": true, "power_step.time_constant_s": true,
		"power_step.time_constant_low_s": true, "power_step.time_constant_high_s": true, "power_step.short_is_a_limit": true,
		"power_step.cause": true, "thermal_hits": false, "steady.reached": false, "steady.since_s": true, "steady.temperature_c": true,
		"steady.power_w": true, "steady.forecast_c": true, "steady.forecast_low_c": true, "steady.forecast_high_c": true, "steady.eta_s": true,
		"thermal_path.reference_c": true, "thermal_path.reference_source": false, "thermal_path.rth_k_per_w": true,
		"thermal_path.rth_low_k_per_w": true, "thermal_path.rth_high_k_per_w": true, "thermal_path.stages": false,
		"thermal_path.near_k_per_w": true, "thermal_path.far_k_per_w": true, "headroom.limit_c": false, "headroom.margin_k": true,
		"headroom.power_w": true, "headroom.power_low_w": true, "headroom.power_high_w": true, "headroom.margin_w": true,
		"headroom.next_step_w": true, "headroom.tested_to_w": true, "warnings": false,
	} {
		v, ok := lookup(r, path)
		switch {
		case !ok:
			t.Errorf("%s is left out", path)
		case null && v != nil:
			t.Errorf("%s is %v, three seconds of rest cannot tell it", path, v)
		case !null && v == nil && path != "headroom.limit_c":
			t.Errorf("%s is null", path)
		}
	}
}

func lookup(m map[string]any, path string) (any, bool) {
	head, rest, deeper := strings.Cut(path, ".")
	v, ok := m[head]
	if !ok || !deeper {
		return v, ok
	}
	inner, isMap := v.(map[string]any)
	if !isMap {
		return nil, false
	}
	return lookup(inner, rest)
}

// A file that cannot be read gives one error with its place, status 2, and no output.
func TestUnreadableFiles(t *testing.T) {
	archiveIn(t)
	bad := filepath.Join(t.TempDir(), "bad.csv")
	if err := os.WriteFile(bad, []byte("time [s],package power [W]\n0,5\n1,five\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"analyze", bad}, "bad.csv:3:3:"},
		{[]string{"import", bad}, "bad.csv:3:3:"},
		{[]string{"analyze", "nothere.csv"}, "nothere.csv"},
		{[]string{"analyze", "20990101"}, "no such session"},
		{[]string{"analyze", recording, "--role", "die=no such channel"}, "no such channel"},
		{[]string{"watch", "--rig", "no-such-setup"}, "plate-again"},
		{[]string{"no-such-verb"}, "no-such-verb"},
	} {
		status, out, errOut := soakline(t, c.args...)
		if status != 2 || out != "" || !strings.Contains(errOut, c.want) {
			t.Errorf("%v: status %d, output %q, error %q; want status 2 and an error with %q", c.args, status, out, errOut, c.want)
		}
	}
	if _, out, _ := soakline(t, "sessions"); strings.Contains(out, "bad") {
		t.Errorf("a broken import left a session: %s", out)
	}
}

// What goes in comes out: import, list, export, and the same answers from all three.
func TestArchiveKeepsTheAnswers(t *testing.T) {
	archiveIn(t)
	status, id, errOut := soakline(t, "import", recording, "--name", "card")
	if status != 0 {
		t.Fatal(errOut)
	}
	id = strings.TrimSpace(id)
	if _, list, _ := soakline(t, "sessions", "card"); !strings.Contains(list, id) {
		t.Errorf("session %s is not listed: %s", id, list)
	}
	exported := filepath.Join(t.TempDir(), "out.csv")
	if status, _, errOut := soakline(t, "export", id, "-o", exported); status != 0 {
		t.Fatal(errOut)
	}
	_, fromFile, _ := soakline(t, "analyze", recording)
	_, fromSession, _ := soakline(t, "analyze", "last")
	_, fromExport, _ := soakline(t, "analyze", exported)
	if fromFile == "" || fromSession != fromFile || fromExport != fromFile {
		t.Errorf("the answers differ:\nfile\n%s\nsession\n%s\nexport\n%s", fromFile, fromSession, fromExport)
	}
}

// The user's own load: its output passes through, its status is ours, its start and end
// are marks in the session.
func TestRecordACommand(t *testing.T) {
	if _, err := os.Stat("/bin/sh"); err != nil {
		t.Skip("needs a shell to play the user's load")
	}
	archiveIn(t)
	status, out, errOut := soakline(t, "record", "--rig", "fan-cooler", "--rest", "300ms", "--cool", "300ms",
		"--setup", "lid=closed", "--", "/bin/sh", "-c", "echo score 41; exit 7")
	if status != 7 || !strings.Contains(out, "score 41") {
		t.Errorf("status %d, output %q, want 7 and the command's own words; %s", status, out, errOut)
	}
	_, csv, _ := soakline(t, "export", "last")
	for _, want := range []string{"# setup: lid = closed", "load starts: /bin/sh", "exit status 7", "simulated"} {
		if !strings.Contains(csv, want) {
			t.Errorf("the session does not hold %q:\n%.600s", want, csv)
		}
	}
}

func TestHelpShowsAnExample(t *testing.T) {
	for _, verb := range []string{"watch", "record", "channels", "analyze", "export", "import", "sessions"} {
		status, out, _ := soakline(t, verb, "--help")
		if status != 0 || !strings.Contains(out, "Example") || !strings.Contains(out, "soakline "+verb) {
			t.Errorf("%s --help: status %d, no example in %q", verb, status, out)
		}
	}
}

func TestChannelsListsRoleUnitPeriodAndCost(t *testing.T) {
	status, out, errOut := soakline(t, "channels", "--rig", "fan-cooler", "--json")
	if status != 0 {
		t.Fatal(errOut)
	}
	var l listing
	if err := json.Unmarshal([]byte(out), &l); err != nil {
		t.Fatal(err)
	}
	for _, c := range l.Channels {
		if c.Role == "die" && c.Unit == "degC" && c.RefreshS != nil && c.ReadUs != nil {
			return
		}
	}
	t.Errorf("no die channel with unit, period and cost: %s", out)
}
