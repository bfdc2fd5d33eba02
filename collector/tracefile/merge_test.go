package tracefile

import (
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/collector/telemetry"
)

func part1(t *testing.T, text string) *Rows {
	t.Helper()
	r, err := NewRows(strings.NewReader(text), Options{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func merged(t *testing.T, parts ...Part) *telemetry.Trace {
	t.Helper()
	m, err := Merge(parts, nil)
	if err != nil {
		t.Fatal(err)
	}
	all := &telemetry.Trace{}
	for {
		p, err := m.Next(2)
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		all.Time = append(all.Time, p.Time...)
		for c := range p.Values {
			if c == len(all.Values) {
				all.Values, all.States = append(all.Values, nil), append(all.States, nil)
			}
			all.Values[c], all.States[c] = append(all.Values[c], p.Values[c]...), append(all.States[c], p.States[c]...)
		}
	}
	h, err := m.Head()
	if err != nil {
		t.Fatal(err)
	}
	h.Time, h.Values, h.States = all.Time, all.Values, all.States
	return h
}

// TestMergeOffset: b runs 1.5 s later than a; what one measured last is held in the rows
// of the other and is stale once it has missed two of its steps.
func TestMergeOffset(t *testing.T) {
	a := "# mark: 1 one\n# setup: lid = open\ntime [s],package power [W]\n0,10\n1,11\n2,12\n3,13\n"
	b := "# mark: 0 two\n# setup: lid = shut\n# score: s = 4, lower is better\ntime [s],package power [W],fan [rpm]\n0,5,900\n0.5,6,\n"
	got := merged(t, Part{part1(t, a), "a", 0}, Part{part1(t, b), "b", 1.5})
	if want := []float64{0, 1, 1.5, 2, 3}; !slices.Equal(got.Time, want) {
		t.Errorf("time %v", got.Time)
	}
	nan := math.NaN()
	for c, want := range [][]float64{{10, 11, 11, 12, 13}, {nan, nan, 5, 6, 6}, {nan, nan, 900, nan, nan}} {
		if !sameColumn(got.Values[c], want) {
			t.Errorf("column %d is %v, not %v", c, got.Values[c], want)
		}
	}
	if s := got.States[0]; s[2] != telemetry.Held || s[1] != telemetry.Fresh {
		t.Errorf("states %v", s)
	}
	if s := got.States[1]; s[0] != telemetry.NoData || s[4] != telemetry.Held {
		t.Errorf("states %v", s)
	}
	if got.Channels[0].Role != telemetry.RolePower || got.Channels[1].Role != telemetry.RoleNone || got.Channels[1].Name != "b: package power" {
		t.Errorf("channels %+v", got.Channels)
	}
	if m := got.Marks; len(m) != 2 || m[0].At != 1 || m[1].At != 1.5 || got.Scores[0].At != 2 {
		t.Errorf("marks %v, scores %v", m, got.Scores)
	}
	if want := []telemetry.Setting{{Key: "lid", Value: "open"}, {Key: "b: lid", Value: "shut"}}; !slices.Equal(got.Setup, want) {
		t.Errorf("setup %v", got.Setup)
	}
	stale := merged(t, Part{part1(t, "time [s],x [W]\n0,1\n1,2\n"), "a", 0}, Part{part1(t, "time [s],y [W]\n0,1\n1,1\n2,1\n3,1\n4,1\n"), "b", 0})
	if s := stale.States[0]; s[3] != telemetry.Held || s[4] != telemetry.GapStale || !math.IsNaN(stale.Values[0][4]) {
		t.Errorf("states %v", s)
	}
}

// TestMergeClocks: files that say when they began are kept apart as they were, also when
// the second began first.
func TestMergeClocks(t *testing.T) {
	a := "# mark: 0 a\ntime,x [W]\n2026-03-01T20:15:10Z,1\n2026-03-01T20:15:11Z,2\n"
	b := "# start: 2026-03-01T20:15:08Z\ntime [s],y [W]\n0,1\n2.5,2\n"
	got := merged(t, Part{part1(t, a), "a", 0}, Part{part1(t, b), "b", 0})
	if want := []float64{0, 2, 2.5, 3}; !slices.Equal(got.Time, want) || !got.Start.Equal(time.Date(2026, 3, 1, 20, 15, 8, 0, time.UTC)) || got.Marks[0].At != 2 {
		t.Errorf("time %v, start %v, marks %v", got.Time, got.Start, got.Marks)
	}
	bad, err := Merge([]Part{{part1(t, a), "a", 0}, {part1(t, "time,y [W]\n0,1\n1,no\n"), "b", 0}}, nil)
	if err == nil {
		_, err = bad.Next(100)
	}
	if err == nil || !strings.Contains(err.Error(), "trace:3:3") {
		t.Errorf("error is %v", err)
	}
}
