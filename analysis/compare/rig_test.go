package compare_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/collector/source/rig"
	"soakline/collector/telemetry"
)

func rigRun(t *testing.T, setup string, seed uint64) compare.Run {
	t.Helper()
	cfg := rig.Default()
	cfg.Seed = seed
	src, err := rig.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	if err := src.Select(setup); err != nil {
		t.Fatal(err)
	}
	tr, _ := src.Trace(100*time.Millisecond, 10*time.Minute)
	if tr.Channels, err = telemetry.Resolve(tr.Channels, nil); err != nil {
		t.Fatal(err)
	}
	return compare.Of(tr, analysis.Options{LimitC: 90})
}

// The story of the simulated machine: the plate's first mount has a bad contact (near),
// mounted again it is right, the same mount twice is the same, and the plate against the
// fan cooler differs in the far part only, although it holds more heat.
func TestRigStory(t *testing.T) {
	fan, first, again := rigRun(t, "fan-cooler", 1), rigRun(t, "plate-first", 2), rigRun(t, "plate-again", 3)
	for _, c := range []struct {
		name string
		a, b compare.Run
		want compare.Verdict
	}{
		{"first against again", first, again, compare.Near},
		{"again against itself", again, rigRun(t, "plate-again", 4), compare.None},
		{"fan cooler against plate", fan, again, compare.Far},
		{"fan cooler against bad mount", fan, first, compare.Both},
	} {
		got := compare.Compare([]compare.Run{c.a}, []compare.Run{c.b}, compare.Options{})
		if got.ThermalPath.Verdict != c.want {
			t.Errorf("%s: %s, want %s: %s", c.name, got.ThermalPath.Verdict, c.want, got.ThermalPath.Why)
		}
		if many := slices.ContainsFunc(got.Warnings, func(w string) bool { return strings.Contains(w, "things changed") }); many != (c.name != "again against itself") {
			t.Errorf("%s: %v", c.name, got.Warnings)
		}
	}
}
