package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/collector/source/rig"
	"soakline/collector/tracefile"
)

// rigFile writes a recording of the simulated machine as a trace file.
func rigFile(t *testing.T, setup string, seed uint64) string {
	t.Helper()
	cfg := rig.Default()
	cfg.Seed = seed
	src, err := rig.New(cfg)
	if err == nil {
		err = src.Select(setup)
	}
	if err != nil {
		t.Fatal(err)
	}
	tr, _ := src.Trace(200*time.Millisecond, 6*time.Minute)
	path := filepath.Join(t.TempDir(), setup+".csv")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := tracefile.Write(f, tr); err != nil {
		t.Fatal(err)
	}
	return path
}

// field walks a path of keys in JSON; ok is false where a key is left out.
func field(v any, path ...string) (any, bool) {
	for _, key := range path {
		if list, isList := v.([]any); isList {
			if len(list) == 0 {
				return nil, false
			}
			v = list[0]
		}
		m, isMap := v.(map[string]any)
		if !isMap {
			return nil, false
		}
		var ok bool
		if v, ok = m[key]; !ok {
			return nil, false
		}
	}
	return v, true
}

// fixed are the fields of the comparison that scripts may rely on (schema
// soakline.comparison/1), each with what it holds: s text, n number, l list, o object.
var fixed = map[string]string{
	"schema": "s", "setup_changes": "l", "setup_changes.key": "s", "setup_changes.a": "s", "setup_changes.b": "s",
	"thermal_path": "o", "thermal_path.verdict": "s", "thermal_path.near_ratio": "n", "thermal_path.near_low": "n", "thermal_path.near_high": "n",
	"thermal_path.far_ratio": "n", "thermal_path.far_low": "n", "thermal_path.far_high": "n", "thermal_path.separation_s": "n", "thermal_path.why": "s",
	"metrics": "l", "metrics.name": "s", "metrics.unit": "s", "metrics.n_a": "n", "metrics.n_b": "n", "metrics.a": "n", "metrics.b": "n",
	"metrics.change_pct": "n", "metrics.low_pct": "n", "metrics.high_pct": "n", "metrics.real": "b", "warnings": "l",
}

// holds checks that every fixed field stands in the JSON, of its kind or null, and gives
// which of them are null.
func holds(t *testing.T, out string) (v any, null map[string]bool) {
	t.Helper()
	if err := json.Unmarshal([]byte(out), &v); err != nil {
		t.Fatal(err)
	}
	null = map[string]bool{}
	for name, kind := range fixed {
		got, ok := field(v, strings.Split(name, ".")...)
		if !ok {
			if list, _ := field(v, strings.Split(name, ".")[0]); strings.Contains(name, ".") && list != nil {
				if l, isList := list.([]any); isList && len(l) == 0 {
					continue
				}
			}
			t.Errorf("%s is left out", name)
			continue
		}
		if got == nil {
			null[name] = true
			continue
		}
		is := "?"
		switch got.(type) {
		case string:
			is = "s"
		case float64:
			is = "n"
		case bool:
			is = "b"
		case []any:
			is = "l"
		case map[string]any:
			is = "o"
		}
		if is != kind {
			t.Errorf("%s holds %v, want kind %s", name, got, kind)
		}
	}
	return v, null
}

// One run a side: what they show is said, what they cannot show is null.
func TestCompareOneRunEach(t *testing.T) {
	first, again := rigFile(t, "plate-first", 2), rigFile(t, "plate-again", 3)
	v, null := holds(t, sure(t, "compare", first, again, "--json"))
	if got, _ := field(v, "schema"); got != "soakline.comparison/1" {
		t.Errorf("schema %v", got)
	}
	if got, _ := field(v, "thermal_path", "verdict"); got != "near" {
		t.Errorf("verdict %v: the rig's contact alone was changed", got)
	}
	for _, name := range []string{"metrics.low_pct", "metrics.high_pct", "metrics.real"} {
		if !null[name] {
			t.Errorf("%s is not null with one run a side", name)
		}
		delete(null, name)
	}
	if len(null) != 0 {
		t.Errorf("null although known: %v", null)
	}
	if got, _ := field(v, "metrics", "why"); !strings.Contains(got.(string), "two runs") {
		t.Errorf("why: %v", got)
	}
	out := sure(t, "compare", first, again)
	for _, want := range []string{"near part", "far part is the same", "paste:", "re-applied, second time", "real or chance: not known"} {
		if !strings.Contains(out, want) {
			t.Errorf("%s\nlacks %q", out, want)
		}
	}
}

// Two runs a side of the simulated machine, from files and from the archive alike.
func TestCompareSeveralRuns(t *testing.T) {
	archiveIn(t)
	a1, a2, b1, b2 := rigFile(t, "plate-first", 2), rigFile(t, "plate-first", 4), rigFile(t, "plate-again", 3), rigFile(t, "plate-again", 5)
	id := strings.TrimSpace(sure(t, "import", b2))
	v, null := holds(t, sure(t, "compare", a1+","+a2, b1+", "+id, "--json"))
	for _, name := range []string{"metrics.low_pct", "metrics.high_pct", "metrics.real"} {
		if null[name] {
			t.Errorf("%s is null with two runs a side", name)
		}
	}
	if n, _ := field(v, "metrics", "n_b"); n != 2.0 {
		t.Errorf("%v runs on side B", n)
	}
	if status, _, errOut := soakline(t, "compare", a1+","+a2, b1, "--interleaved"); status != 2 || !strings.Contains(errOut, "pairs") {
		t.Errorf("pairs of two and one: status %d, %s", status, errOut)
	}
}

// What has no power and no reference is undetermined with a reason, and nothing else.
func TestCompareUndetermined(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bare.csv")
	if err := os.WriteFile(path, []byte("time [s],die temperature [degC]\n0,40\n1,41\n2,42\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	v, null := holds(t, sure(t, "compare", path, path, "--json"))
	if got, _ := field(v, "thermal_path", "verdict"); got != "undetermined" {
		t.Errorf("verdict %v", got)
	}
	if why, _ := field(v, "thermal_path", "why"); why == "" {
		t.Error("undetermined without a reason")
	}
	for _, name := range []string{"thermal_path.near_ratio", "thermal_path.near_low", "thermal_path.far_high", "thermal_path.separation_s"} {
		if !null[name] {
			t.Errorf("%s is not null", name)
		}
	}
}

func TestCompareRefuses(t *testing.T) {
	archiveIn(t)
	bad := filepath.Join(t.TempDir(), "bad.csv")
	if err := os.WriteFile(bad, []byte("time [s],package power [W]\n0,5\n1,x\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		word string
	}{
		{[]string{recording}, "<b>"},
		{[]string{recording, "missing.csv"}, "no such file"},
		{[]string{recording, bad}, "bad.csv:3"},
		{[]string{"20200101-000000-aaa", recording}, "no such session"},
		{[]string{recording + ",", recording}, "comma"},
		{[]string{"", recording}, "name is missing"},
	} {
		status, out, errOut := soakline(t, append([]string{"compare", "--json"}, c.args...)...)
		if status != 2 || out != "" || !strings.Contains(errOut, c.word) {
			t.Errorf("%v: status %d, printed %q, said %q, want %q", c.args, status, out, errOut, c.word)
		}
	}
}
