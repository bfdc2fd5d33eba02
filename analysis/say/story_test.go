package say_test

import (
	"fmt"
	"os"
	"testing"
	"time"

	"soakline/analysis"
	"soakline/analysis/say"
	"soakline/collector/source/rig"
	"soakline/collector/telemetry"
)

func rigTrace(t testing.TB, setup string, length time.Duration) *telemetry.Trace {
	src, err := rig.New(rig.Default())
	if err != nil {
		t.Fatal(err)
	}
	if err := src.Select(setup); err != nil {
		t.Fatal(err)
	}
	tr, _ := src.Trace(100*time.Millisecond, length)
	if tr.Channels, err = telemetry.Resolve(tr.Channels, nil); err != nil {
		t.Fatal(err)
	}
	return tr
}

// story asks once a second, as the live view does, and notes each line that differs
// from the one before.
func story(tr *telemetry.Trace, o analysis.Options) (lines []string) {
	on := analysis.NewOnline(tr.Channels, o)
	v, s := make([]float64, len(tr.Channels)), make([]telemetry.State, len(tr.Channels))
	next, line := 0.0, say.Line{}
	for i, at := range tr.Time {
		for c := range v {
			v[c], s[c] = tr.Values[c][i], tr.StateAt(c, i)
		}
		on.Push(at, v, s)
		if at < next {
			continue
		}
		next = at + 1
		was := line.Text
		if line = say.Next(line, on.Result()); line.Text != was {
			lines = append(lines, fmt.Sprintf("%6.1f  %s", at, line.Text))
		}
	}
	return lines
}

func TestStoryPrint(t *testing.T) {
	for _, setup := range []string{"fan-cooler", "plate-first", "plate-again"} {
		f, _ := os.Create("/tmp/an/story-" + setup + ".txt")
		for _, l := range story(rigTrace(t, setup, 420*time.Second), analysis.Options{LimitC: 90}) {
			fmt.Fprintln(f, l)
		}
		f.Close()
	}
}
