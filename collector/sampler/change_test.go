package sampler

import (
	"testing"
	"testing/synctest"
	"time"

	"soakline/collector/telemetry"
)

// changing is a source that asks to be opened anew and has marks of its own.
type changing struct {
	*fakeSource
	changed chan struct{}
	marks   []telemetry.Mark
}

func (c *changing) Changed() <-chan struct{} { return c.changed }

func (c *changing) Marks() []telemetry.Mark {
	m := c.marks
	c.marks = nil
	return m
}

// TestChange: a source that says that it changed is opened anew in the next tick, twice
// within a second if need be; its new channel gets a column, the old one keeps its own,
// and the conditions are told.
func TestChange(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := &fakeReader{read: stamp}
		src := &changing{changed: make(chan struct{}, 1)}
		src.fakeSource = &fakeSource{name: "feed", script: []func() telemetry.Inventory{
			inventory(group1("a", a)),
			inventory(group1("b", &fakeReader{read: stamp}), group1("a", &fakeReader{read: stamp})),
			func() telemetry.Inventory {
				return telemetry.Inventory{Groups: []telemetry.Group{group1("a", &fakeReader{read: stamp}), group1("b", &fakeReader{read: stamp}), group1("c", &fakeReader{read: stamp})},
					Conditions: []telemetry.Setting{{Key: "lid", Value: "open"}}}
			}}}
		go func() {
			for range 2 {
				time.Sleep(510 * time.Millisecond)
				src.changed <- struct{}{}
			}
		}()
		_, rec := sample(t, 20, Config{}, nil, src, sourceOf("other", group1("x", &fakeReader{read: stamp})))
		punctual(t, rec, 0)
		punctual(t, rec, 1)
		if len(rec.added) != 2 || rec.added[0].Key != "b" || rec.added[1].Key != "c" || len(rec.settings) != 1 {
			t.Fatalf("added %+v, settings %v", rec.added, rec.settings)
		}
		for i, row := range rec.rows {
			want := 2
			if i >= 7 {
				want = 3
			}
			if i >= 12 {
				want = 4
			}
			if len(row.Values) != want {
				t.Fatalf("row %d has %d values, want %d", i, len(row.Values), want)
			}
		}
		if _, closed := a.count(); closed != 1 || src.opens != 3 {
			t.Errorf("closed %d times, opened %d times", closed, src.opens)
		}
	})
}

// TestReopeningHoldsSlowChannels: a slow channel whose source is opened anew keeps its
// last reading until the new reader has one.
func TestReopeningHoldsSlowChannels(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		slow := func() telemetry.Group {
			g := group1("slow", &fakeReader{read: func(at time.Duration, out []telemetry.Reading) {
				time.Sleep(150 * time.Millisecond)
				stamp(at, out)
			}})
			g.Slow, g.Every = true, 500*time.Millisecond
			return g
		}
		src := &changing{changed: make(chan struct{}, 1), fakeSource: &fakeSource{name: "bus", script: []func() telemetry.Inventory{
			func() telemetry.Inventory { return telemetry.Inventory{Groups: []telemetry.Group{slow()}} }}}}
		go func() {
			time.Sleep(1250 * time.Millisecond)
			src.changed <- struct{}{}
		}()
		_, rec := sample(t, 30, Config{}, nil, src)
		time.Sleep(time.Second) // the last read comes back
		states := rec.states(0)
		if src.opens != 2 || count(states[:2], telemetry.NoData) != 2 || count(states[2:], telemetry.Fresh)+count(states[2:], telemetry.Held) != 28 {
			t.Errorf("opened %d times: %v", src.opens, states)
		}
	})
}

// TestMarksOfASource: they get the session's time, and one from before its first row
// stands at its beginning.
func TestMarksOfASource(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src := &changing{fakeSource: sourceOf("feed", group1("a", &fakeReader{read: stamp})),
			marks: []telemetry.Mark{{At: 0.25, Kind: telemetry.MarkMachine, Text: "contact lost"}, {At: -3, Text: "before"}}}
		_, rec := sample(t, 5, Config{}, nil, src)
		if len(rec.marks) != 2 || rec.marks[0].At != 0.25 || rec.marks[0].Text != "contact lost" || rec.marks[1].At != 0 {
			t.Errorf("%+v", rec.marks)
		}
	})
}
