package conditions

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/session"
	"soakline/collector/telemetry"
)

func channels() []telemetry.Channel {
	return []telemetry.Channel{
		{Key: "p", Name: "package power", Quantity: quantity.Power, Role: telemetry.RolePower},
		{Key: "l", Name: "long-term limit", Quantity: quantity.Power, Role: telemetry.RoleLongLimit},
		{Key: "lid", Name: "lid", Quantity: quantity.Label, Labels: []string{"open", "closed"}},
	}
}

// run feeds 10 Hz rows: f gives the limit and the lid at a time; NaN is a gap.
func run(from, to float64, w *Watcher, f func(at float64) (limit, lid float64)) []Change {
	var out []Change
	for i := int(from * 10); i < int(to*10); i++ {
		at := float64(i) / 10
		limit, lid := f(at)
		values, states := []float64{at, limit, lid}, []telemetry.State{1, 1, 1}
		for k, v := range values {
			if math.IsNaN(v) {
				states[k] = telemetry.GapIO
			}
		}
		out = append(out, w.Row(channels(), at, values, states)...)
	}
	return out
}

func TestWatcher(t *testing.T) {
	step := func(at, when, before, after float64) float64 {
		if at < when {
			return before
		}
		return after
	}
	tests := []struct {
		name string
		f    func(at float64) (limit, lid float64)
		want []Change
	}{
		{"nothing changes", func(at float64) (float64, float64) { return 28, 0 }, nil},
		{"a limit", func(at float64) (float64, float64) { return step(at, 5, 28, 35), 0 }, []Change{{5, "long-term limit changed from 28 W to 35 W"}}},
		{"the lid", func(at float64) (float64, float64) { return 28, step(at, 5, 0, 1) }, []Change{{5, "lid changed from open to closed"}}},
		{"a blink", func(at float64) (float64, float64) { return step(at, 5, 28, 35) - step(at, 5.5, 0, 7), 0 }, nil},
		{"a gap is no change", func(at float64) (float64, float64) { return step(at, 5, 28, math.NaN()), 0 }, nil},
		{"a change across a gap", func(at float64) (float64, float64) {
			if at >= 4 && at < 6 {
				return math.NaN(), 0
			}
			return step(at, 5, 28, 35), 0
		}, []Change{{6, "long-term limit changed from 28 W to 35 W"}}},
		{"a ramp settles once", func(at float64) (float64, float64) { return 28 + math.Floor(10*math.Min(math.Max(at-5, 0), 2))/2, 0 },
			[]Change{{7, "long-term limit changed from 28 W to 38 W"}}},
		{"rounding", func(at float64) (float64, float64) { return step(at, 5, 28, 28.01), 0 }, nil},
	}
	for _, tt := range tests {
		if got := run(0, 10, &Watcher{}, tt.f); !slices.Equal(got, tt.want) {
			t.Errorf("%s: %v, not %v", tt.name, got, tt.want)
		}
	}
}

// TestRestless: a limit that the firmware moves all the time is given up after 20 marks.
func TestRestless(t *testing.T) {
	got := run(0, 200, &Watcher{}, func(at float64) (float64, float64) { return 28 + math.Mod(math.Floor(at/2), 2), 0 })
	if len(got) != mostMarks || !strings.Contains(got[mostMarks-1].Text, "not marked") {
		t.Errorf("%d marks, the last %v", len(got), got[len(got)-1])
	}
}

// TestFollow: the mark stands in the session at the moment of the change, also when the
// rows came all at once and the session is over.
func TestFollow(t *testing.T) {
	s := session.New(session.Info{Period: 100 * time.Millisecond}, channels(), nil)
	for i := range 2000 {
		limit := 28.0
		if i >= 1000 {
			limit = 35
		}
		s.Publish(telemetry.Row{At: float64(i) / 10, Values: []float64{5, limit, 0}, States: []telemetry.State{1, 1, 1}})
	}
	s.End("over")
	Follow(context.Background(), s)
	m := s.Marks()
	if len(m) != 1 || m[0].At != 100 || m[0].Kind != telemetry.MarkMachine || m[0].Text != "long-term limit changed from 28 W to 35 W" {
		t.Errorf("marks %+v", m)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	Follow(ctx, session.New(session.Info{}, channels(), nil)) // returns
}
