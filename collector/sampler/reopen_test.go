package sampler

import (
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

func inventory(groups ...telemetry.Group) func() telemetry.Inventory {
	return func() telemetry.Inventory { return telemetry.Inventory{Groups: groups} }
}

// until reads like stamp and reports GapGone from the nth read on.
func until(n int) *fakeReader {
	r := &fakeReader{}
	r.read = func(at time.Duration, out []telemetry.Reading) {
		stamp(at, out)
		if r.reads >= n {
			out[0] = telemetry.Reading{State: telemetry.GapGone}
		}
	}
	return r
}

// TestVanishAndReturn: a device goes after 2 s. The source looks again at once, finds it
// still away, looks 5 s later and finds it back, with another one beside it. Its channel
// has the same column, the new one a column at the end; the neighbour's reader stays
// while there is nothing to gain from another.
func TestVanishAndReturn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a, b := until(21), &fakeReader{read: stamp}
		spare, a2, b2, c2 := &fakeReader{read: stamp}, &fakeReader{read: stamp}, &fakeReader{read: stamp}, &fakeReader{read: stamp}
		hot := group1("c", c2)
		hot.Channels[0].Role, hot.Channels[0].Rank = telemetry.RoleDie, 5 // too late, whatever its rank
		src := &fakeSource{name: "bus", script: []func() telemetry.Inventory{
			inventory(group1("a", a), group1("b", b)),
			inventory(group1("b", spare)),
			func() telemetry.Inventory {
				time.Sleep(250 * time.Millisecond) // looking takes a while, beside the ticks
				return telemetry.Inventory{Groups: []telemetry.Group{group1("b", b2), hot, group1("a", a2)},
					Conditions: []telemetry.Setting{{Key: "limit", Value: "28 W"}},
					Missing:    []telemetry.Missing{{Name: "d", Reason: "no right"}}}
			}}}
		die := group1("die", &fakeReader{read: stamp})
		die.Channels[0].Role = telemetry.RoleDie
		_, rec := sample(t, 120, Config{}, nil, src, sourceOf("other", die))
		punctual(t, rec, 1)
		punctual(t, rec, 2)
		st := rec.states(0)
		back := 0
		for i := len(st) - 1; st[i] == telemetry.Fresh; i-- {
			back = i
		}
		if count(st[:20], telemetry.Fresh) != 20 || count(st[20:back], telemetry.GapGone) != back-20 {
			t.Errorf("states %v", st)
		}
		// Gone in row 20 at 2 s, looked for then and after 5 s, found 250 ms later.
		if back < 72 || back > 74 {
			t.Errorf("back in row %d", back)
		}
		if len(rec.added) != 1 || rec.added[0].Key != "c" || rec.added[0].Role != telemetry.RoleNone {
			t.Errorf("added %+v", rec.added)
		}
		if last := rec.rows[119]; len(last.Values) != 4 || last.States[3] != telemetry.Fresh || len(rec.rows[50].Values) != 3 {
			t.Errorf("last row %+v", last)
		}
		if len(rec.settings) != 1 || len(rec.missing) != 1 {
			t.Errorf("settings %v missing %v", rec.settings, rec.missing)
		}
		for i, r := range []*fakeReader{a, b, spare, a2, b2, c2} {
			if _, closed := r.count(); closed != 1 {
				t.Errorf("reader %d closed %d times", i, closed)
			}
		}
		if n, _ := spare.count(); n != 0 || src.opens != 3 {
			t.Errorf("spare read %d times, %d looks", n, src.opens)
		}
	})
}

// TestLookingHangs: a source that never comes back from looking disturbs nobody, and is
// not asked again meanwhile.
func TestLookingHangs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		src := &fakeSource{name: "bus", script: []func() telemetry.Inventory{inventory(group1("a", until(5))),
			func() telemetry.Inventory { <-release; return telemetry.Inventory{} }}}
		_, rec := sample(t, 300, Config{}, release, src, sourceOf("other", group1("b", &fakeReader{read: stamp})))
		punctual(t, rec, 1)
		if src.opens != 2 {
			t.Errorf("%d looks", src.opens)
		}
	})
}

// TestStaysAway: while a device stays away the looks become rarer, 5, 10, 20, 30, 30 s.
func TestStaysAway(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src := &fakeSource{name: "bus", script: []func() telemetry.Inventory{inventory(group1("a", until(5))),
			func() telemetry.Inventory { panic("rubbish") }}}
		_, rec := sample(t, 1000, Config{}, nil, src)
		if src.opens != 1+6 { // at 0.4, 5.4, 15.4, 35.4, 65.4 and 95.4 s
			t.Errorf("%d looks in 100 s", src.opens)
		}
		if n := count(rec.states(0), telemetry.GapGone); n != 996 {
			t.Errorf("%d rows without the device", n)
		}
	})
}

// sleepy is a clock on a machine that is suspended once.
type sleepy struct {
	Clock
	at, span time.Duration
}

func (c sleepy) Now() (now, slept time.Duration) {
	if now, slept = c.Clock.Now(); now >= c.at {
		return now + c.span, slept + c.span
	}
	return now, slept
}

func (c sleepy) awake(until time.Duration) time.Duration {
	if until >= c.at+c.span {
		return until - c.span
	}
	return until
}

func (c sleepy) Sleep(ctx context.Context, until time.Duration) error {
	return c.Clock.Sleep(ctx, c.awake(until))
}

// TestSuspend: the row after a sleep is a gap everywhere, with a mark that says how long;
// then readers go on that were told, or that were opened anew.
func TestSuspend(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		told, untold, again := &resumer{fakeReader{read: stamp}}, &fakeReader{read: stamp}, &fakeReader{read: stamp}
		slow := group1("slow", &resumer{fakeReader{read: stamp}})
		slow.Slow = true
		plain := &fakeSource{name: "plain", script: []func() telemetry.Inventory{inventory(group1("untold", untold)), func() telemetry.Inventory {
			time.Sleep(220 * time.Millisecond)
			return telemetry.Inventory{Groups: []telemetry.Group{group1("untold", again)}}
		}}}
		cfg := Config{Clock: sleepy{Real(), 1950 * time.Millisecond, 12340 * time.Millisecond}}
		s, rec := sample(t, 60, cfg, nil, sourceOf("told", group1("told", told), slow), plain)
		for i, row := range rec.rows {
			for c, state := range row.States {
				if (state == telemetry.GapSuspended) != (i == 20 || c == 1 && i == 21 || c == 2 && i <= 22 && i > 20) {
					t.Errorf("row %d at %v: channel %d is %v", i, row.At, c, state)
				}
			}
			if row.Lateness > 100*time.Millisecond {
				t.Errorf("row %d is %v late", i, row.Lateness)
			}
		}
		if at := rec.rows[20].At; at < 14.2 || at > 14.4 {
			t.Errorf("the row after the sleep is at %v", at)
		}
		if len(rec.marks) != 1 || rec.marks[0].Text != "the machine was suspended for 12 s" || rec.marks[0].Kind != telemetry.MarkMachine {
			t.Errorf("marks %+v", rec.marks)
		}
		if n, _ := untold.count(); n != 20 {
			t.Errorf("the reader that was not told was read %d times", n)
		}
		if n, _ := again.count(); told.resumed != 1 || plain.opens != 2 || n < 35 {
			t.Errorf("told %d times, %d looks, %d reads since", told.resumed, plain.opens, n)
		}
		if st := s.Stats(); st.Skipped != 0 {
			t.Errorf("%d ticks count as skipped", st.Skipped)
		}
	})
}

// TestStandstill: where everything stands still for 3.25 s, the rows go on on the same
// grid, and a mark says that there was a hole.
func TestStandstill(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		s := New(Config{}, []telemetry.Source{sourceOf("fake", group1("a", &fakeReader{read: stamp}))})
		s.Open(ctx)
		rec := &recorder{stop: cancel, limit: 30}
		rec.on = func(n int) {
			if n == 10 {
				time.Sleep(3250 * time.Millisecond)
			}
		}
		s.Run(ctx, rec)
		synctest.Wait()
		// Row 10 at 0.9 s; the ticks of 1.0 to 4.0 s are lost, that of 4.1 is 50 ms late.
		if r := rec.rows[10]; r.At < 4.149 || r.At > 4.151 || r.Lateness != 50*time.Millisecond || r.Seq != 11 {
			t.Errorf("row %d at %v, %v late", r.Seq, r.At, r.Lateness)
		}
		if r := rec.rows[11]; r.At < 4.199 || r.At > 4.201 || r.Lateness != 0 {
			t.Errorf("row %d at %v, %v late", r.Seq, r.At, r.Lateness)
		}
		st := s.Stats()
		if st.Skipped != 31 || st.Ticks != 30 || st.LateMax != 50*time.Millisecond || st.LateP50 != 0 && st.LateP50 > time.Microsecond {
			t.Errorf("%+v", st)
		}
		if len(rec.marks) != 1 || !strings.HasPrefix(rec.marks[0].Text, "no samples for 3 s") {
			t.Errorf("marks %+v", rec.marks)
		}
	})
}

func TestOpen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a, b := group1("cpu", &fakeReader{read: stamp}), group1("board", &fakeReader{read: stamp})
		a.Channels[0].Role, a.Channels[0].Rank = telemetry.RoleDie, 1
		b.Channels[0].Role, b.Channels[0].Rank = telemetry.RoleDie, 2
		late := &fakeSource{name: "late", script: []func() telemetry.Inventory{func() telemetry.Inventory {
			time.Sleep(7 * time.Second)
			return telemetry.Inventory{Groups: []telemetry.Group{group1("pump", &fakeReader{read: stamp})}}
		}}}
		broken := &fakeSource{name: "broken", script: []func() telemetry.Inventory{func() telemetry.Inventory { panic("rubbish") }}}
		absent := &fakeSource{name: "absent", script: []func() telemetry.Inventory{func() telemetry.Inventory {
			return telemetry.Inventory{Status: telemetry.NotHere, Reason: "no such bus", Missing: []telemetry.Missing{{Name: "x"}}}
		}}}
		twice := sourceOf("twice", group1("cpu", &fakeReader{read: stamp}))
		s := New(Config{}, []telemetry.Source{late, sourceOf("fake", a, b), broken, absent, twice})
		ctx, cancel := context.WithCancel(t.Context())
		f, err := s.Open(ctx)
		if err != nil || len(f.Channels) != 2 || f.Channels[0].Role != telemetry.RoleNone || f.Channels[1].Role != telemetry.RoleDie || len(f.Missing) != 1 {
			t.Fatalf("%+v, %v", f, err)
		}
		want := []SourceStatus{{"late", telemetry.Failed, "did not start within 5s", 0}, {"fake", telemetry.Running, "", 2},
			{"broken", telemetry.Failed, "it panicked: rubbish", 0}, {"absent", telemetry.NotHere, "no such bus", 0}, {"twice", telemetry.Running, "", 0}}
		for i, w := range want {
			if f.Sources[i] != w {
				t.Errorf("%+v, want %+v", f.Sources[i], w)
			}
		}
		rec := &recorder{stop: cancel, limit: 50}
		if err := s.Run(ctx, rec); !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
		synctest.Wait()
		if len(rec.added) != 1 || rec.added[0].Key != "pump" || len(rec.rows[49].Values) != 3 {
			t.Errorf("added %+v", rec.added)
		}
	})
}

func TestRoleOverrides(t *testing.T) {
	g := group1("cpu 0", &fakeReader{read: stamp})
	power := group1("package", &fakeReader{read: stamp})
	power.Channels[0].Quantity = quantity.Power
	for name, wrong := range map[string]string{"cpu 0": "", "gpu": "no channel is called", "package": "measures power"} {
		s := New(Config{Roles: map[telemetry.Role]string{telemetry.RoleDie: name}}, []telemetry.Source{sourceOf("fake", g, power)})
		f, err := s.Open(t.Context())
		if wrong == "" && (err != nil || f.Channels[0].Role != telemetry.RoleDie) || wrong != "" && (err == nil || !strings.Contains(err.Error(), wrong)) {
			t.Errorf("%s: %+v, %v", name, f.Channels, err)
		}
		s.Close()
	}
}

// ending is a source with an end.
type ending struct {
	*fakeSource
	reader *fakeReader
	after  int
}

func (e ending) Ended() bool { n, _ := e.reader.count(); return n > e.after }

func TestEnd(t *testing.T) {
	r := &fakeReader{read: stamp}
	s := New(Config{Clock: Simulated(0)}, []telemetry.Source{ending{sourceOf("tape", group1("a", r)), r, 36000}})
	s.Open(t.Context())
	rec := &recorder{}
	if err := s.Run(t.Context(), rec); err != nil || len(rec.rows) != 36000 {
		t.Fatalf("%d rows, %v", len(rec.rows), err)
	}
	for i, row := range rec.rows {
		if row.Values[0] != row.At || row.At != (time.Duration(i)*100*time.Millisecond).Seconds() {
			t.Fatalf("row %d at %v, read at %v", i, row.At, row.Values[0])
		}
	}
}
