package main

import (
	"bytes"
	"context"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"

	"soakline/collector/rawfs/rawfstest"
	"soakline/collector/source/machine"
	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

// read opens every source below root and gives states and values by key.
func read(t *testing.T, root string) (map[string]string, []telemetry.Setting) {
	t.Helper()
	all, conditions := map[string]string{}, []telemetry.Setting(nil)
	for _, s := range machine.Sources(root) {
		inv := s.Open(context.Background())
		for key, r := range sourcetest.Read(inv, 0) {
			all[key] = r.State.Reason() + " " + strings.TrimSpace(formatted(r.Value))
		}
		conditions = append(conditions, inv.Conditions...)
		sourcetest.Close(t, inv)
	}
	return all, conditions
}

// A copy of a machine is that machine to every source: the same keys, values, gaps and
// conditions, but for the host's name, which the copy leaves out.
func TestCopyReadsAsTheMachine(t *testing.T) {
	for _, name := range []string{"intel-notebook", "amd-desktop", "failing-board", "no-sensors"} {
		t.Run(name, func(t *testing.T) {
			original := rawfstest.Unpack(t, name)
			var out, errOut bytes.Buffer
			if err := run([]string{"-root", original.Root}, &out, &errOut); err != nil {
				t.Fatal(err, errOut.String())
			}
			if strings.Contains(out.String(), original.Root) || strings.Contains(out.String(), "bench-1") {
				t.Error("the copy names the directory or the host that it was made from")
			}
			copied := rawfstest.FromText(t, out.String())
			want, wantConditions := read(t, original.Root)
			got, gotConditions := read(t, copied.Root)
			if a, b := slices.Sorted(maps.Keys(got)), slices.Sorted(maps.Keys(want)); !slices.Equal(a, b) {
				t.Errorf("keys\n got %q\nwant %q", a, b)
			}
			for key, reading := range want {
				if got[key] != reading {
					t.Errorf("%s: got %q, want %q", key, got[key], reading)
				}
			}
			wantConditions = slices.DeleteFunc(wantConditions, func(s telemetry.Setting) bool { return s.Key == "host" })
			if !slices.Equal(gotConditions, wantConditions) {
				t.Errorf("conditions\n got %v\nwant %v", gotConditions, wantConditions)
			}
		})
	}
}

func TestNothingSensitiveFits(t *testing.T) {
	for _, f := range []string{"serial_number", "uevent", "model_name", "manufacturer", "temp1_max_alarm", "temp1_alarm", "config", "beep_enable", "unique_id"} {
		if hwmonFiles.MatchString(f) || supplyFiles.MatchString(f) || powerFiles.MatchString(f) {
			t.Errorf("%s would be copied", f)
		}
	}
}

func formatted(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
