package main

import (
	"context"
	"errors"
	"log/slog"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/collector/archive"
	"soakline/collector/sampler"
	"soakline/collector/session"
	"soakline/collector/source/faulty"
	"soakline/collector/telemetry"
)

// sampled runs sources for a span of synthetic time into a session, as a recording does,
// and gives its trace. The archive takes it on the way and gives the same back.
func sampled(t *testing.T, clock sampler.Clock, span time.Duration, release func(), sources ...telemetry.Source) *telemetry.Trace {
	t.Helper()
	smp := sampler.New(sampler.Config{Clock: clock}, sources)
	ctx, stop := context.WithTimeout(t.Context(), span)
	defer stop()
	found, err := smp.Open(ctx)
	if err != nil {
		t.Fatal(err)
	}
	s := session.New(session.Info{ID: "20260101-000000-aaa", Start: time.Now(), Period: 100 * time.Millisecond}, found.Channels, found.Conditions)
	if err := smp.Run(ctx, s); !errors.Is(err, context.DeadlineExceeded) {
		t.Fatal(err)
	}
	s.End("stopped")
	if release != nil {
		release()
	}
	return s.Trace()
}

// spell checks that a channel is in one state from one time to another, but for the row
// at each end, and measured outside of it and of the time that it needs to come back.
func spell(t *testing.T, tr *telemetry.Trace, c int, from, to, back float64, want telemetry.State) {
	t.Helper()
	for i, at := range tr.Time {
		state := tr.StateAt(c, i)
		switch {
		case at > from+0.15 && at < to-0.05:
			if state != want || !math.IsNaN(tr.Values[c][i]) {
				t.Errorf("%s at %.1f s: %v, %q; want %q", tr.Channels[c].Key, at, tr.Values[c][i], state.Reason(), want.Reason())
				return
			}
		case at < from-0.05 || at > to+back:
			if state != telemetry.Fresh || math.Abs(tr.Values[c][i]-at) > 0.1 {
				t.Errorf("%s at %.1f s: %v, state %d; want it measured then", tr.Channels[c].Key, at, tr.Values[c][i], state)
				return
			}
		}
	}
}

// Every fault at once, each on a device of its own, from 2 to 6 s of twenty: its channel
// is a gap with the right reason and comes back; no other channel misses a row or is
// measured late.
func TestFaultsStayWhereTheyAre(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		plan := []struct {
			faulty.Fault
			want telemetry.State
			back float64 // s that it takes to be back
		}{
			{faulty.Fault{Key: "bus error", Kind: faulty.Error, State: telemetry.GapIO}, telemetry.GapIO, 0.1},
			{faulty.Fault{Key: "denied", Kind: faulty.Error, State: telemetry.GapDenied}, telemetry.GapDenied, 0.1},
			{faulty.Fault{Key: "asleep", Kind: faulty.Error, State: telemetry.GapAsleep}, telemetry.GapAsleep, 0.1},
			{faulty.Fault{Key: "no conversion", Kind: faulty.Error, State: telemetry.GapNotReady}, telemetry.GapNotReady, 0.1},
			{faulty.Fault{Key: "no number", Kind: faulty.Rubbish, Value: math.NaN()}, telemetry.GapImplausible, 0.1},
			{faulty.Fault{Key: "endless", Kind: faulty.Rubbish, Value: math.Inf(1)}, telemetry.GapImplausible, 0.1},
			{faulty.Fault{Key: "hangs", Kind: faulty.Hang}, telemetry.GapTimeout, 12}, // ten quick reads a second apart, then every tick again
			{faulty.Fault{Key: "panics", Kind: faulty.Panic}, telemetry.GapIO, 0.1},
			{faulty.Fault{Key: "pulled out", Kind: faulty.Unplugged}, telemetry.GapGone, 6}, // looked for every 5 s
		}
		keys := []string{"first"}
		var faults []faulty.Fault
		for _, p := range plan {
			p.From, p.To = 2*time.Second, 6*time.Second
			keys, faults = append(keys, p.Key), append(faults, p.Fault)
		}
		bad := faulty.Wrap(faulty.Board("board", append(keys, "last")...), faults...)
		tr := sampled(t, sampler.Real(), 20*time.Second, bad.Release, bad, faulty.Board("other", "elsewhere"))
		if n := len(tr.Time); n < 199 || n > 201 {
			t.Fatalf("%d rows of 20 s", n)
		}
		for c, ch := range tr.Channels {
			switch i := c - 1; {
			case i < 0 || i >= len(plan):
				spell(t, tr, c, 99, 99, 0, 0)
			default:
				if ch.Key != plan[i].Key {
					t.Fatalf("channel %d is %s", c, ch.Key)
				}
				spell(t, tr, c, 2, 6, plan[i].back, plan[i].want)
			}
		}
		if bad.Opens() < 3 {
			t.Errorf("opened %d times: the device was not looked for", bad.Opens())
		}
	})
}

// A reader that never comes back holds up nobody, also not the end.
func TestHangForGood(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bad := faulty.Wrap(faulty.Board("board", "a", "b", "c"), faulty.Fault{Key: "b", From: time.Second, Kind: faulty.Hang})
		tr := sampled(t, sampler.Real(), 20*time.Second, bad.Release, bad)
		spell(t, tr, 0, 99, 99, 0, 0)
		spell(t, tr, 1, 1, 99, 0, telemetry.GapTimeout)
		spell(t, tr, 2, 99, 99, 0, 0)
	})
}

// jumpy is a clock on a machine that is suspended, or stands still, once.
type jumpy struct {
	sampler.Clock
	at, span time.Duration
	asleep   bool // else it stood still: nothing says why
	over     bool
}

func (j *jumpy) Now() (now, slept time.Duration) {
	now, slept = j.Clock.Now()
	if j.over && j.asleep {
		return now + j.span, slept + j.span
	}
	return now, slept
}

func (j *jumpy) Sleep(ctx context.Context, until time.Duration) error {
	if now, _ := j.Now(); !j.over && now >= j.at {
		if !j.asleep {
			time.Sleep(j.span)
		}
		j.over = true
	}
	if j.over && j.asleep {
		until -= j.span
	}
	return j.Clock.Sleep(ctx, until)
}

// A sleep of the machine is one row of gaps and a mark; a standstill that nothing
// explains is a mark. Afterwards everything is measured again.
func TestSleepAndStandstill(t *testing.T) {
	for _, c := range []struct {
		asleep bool
		mark   string
	}{{true, "the machine was suspended for 60 s"}, {false, "no samples for 60 s"}} {
		synctest.Test(t, func(t *testing.T) {
			clock := &jumpy{Clock: sampler.Real(), at: 3 * time.Second, span: time.Minute, asleep: c.asleep}
			span := 80 * time.Second
			if c.asleep {
				span -= time.Minute // which this clock leaves out
			}
			tr := sampled(t, clock, span, nil, faulty.Board("board", "a", "b"))
			if len(tr.Marks) != 1 || !strings.Contains(tr.Marks[0].Text, c.mark) || math.Abs(tr.Marks[0].At-63) > 0.3 {
				t.Fatalf("marks %+v, want %q", tr.Marks, c.mark)
			}
			gaps := 0
			for i := range tr.Time {
				if s := tr.StateAt(0, i); s == telemetry.GapSuspended {
					gaps++
				} else if s != telemetry.Fresh && s != telemetry.Held {
					t.Fatalf("at %.1f s: %q", tr.Time[i], s.Reason())
				}
				if i > 0 && tr.Time[i] <= tr.Time[i-1] {
					t.Fatalf("time runs backwards at row %d", i)
				}
			}
			if (gaps > 0) != c.asleep || gaps > 5 {
				t.Errorf("%d rows say that the machine slept", gaps)
			}
			if last := tr.Time[len(tr.Time)-1]; math.Abs(last-80) > 0.5 {
				t.Errorf("the trace ends at %.1f s", last)
			}
		})
	}
}

// What the session says of a fault is what the archive gives back.
func TestFaultsAreKept(t *testing.T) {
	store, err := archive.Open(filepath.Join(t.TempDir(), "sessions.db"), slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	var plan []faulty.Fault
	var keys []string
	for s := telemetry.GapDenied; int(s) < telemetry.NumStates; s++ {
		plan = append(plan, faulty.Fault{Key: s.Reason(), From: time.Second, Kind: faulty.Error, State: s})
		keys = append(keys, s.Reason())
	}
	smp := sampler.New(sampler.Config{Clock: sampler.Simulated(0)}, []telemetry.Source{faulty.Wrap(faulty.Board("board", keys...), plan...)})
	found, err := smp.Open(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	s := session.New(session.Info{ID: "20260101-000000-aaa", Start: time.Unix(1767225600, 0), Period: 100 * time.Millisecond}, found.Channels, nil)
	recorder := store.Record(context.Background(), s)
	ctx, stop := context.WithCancel(t.Context())
	if err := smp.Run(ctx, &until{s, 50, stop}); !errors.Is(err, context.Canceled) {
		t.Fatal(err)
	}
	s.End("stopped")
	<-recorder.Done()
	was := s.Trace()
	kept, err := store.Load(t.Context(), "last")
	if err != nil {
		t.Fatal(err)
	}
	if len(kept.Time) != 50 || len(kept.Channels) != len(keys) {
		t.Fatalf("%d rows of %d channels", len(kept.Time), len(kept.Channels))
	}
	for c := range kept.Channels {
		for i := range kept.Time {
			if kept.StateAt(c, i) != was.StateAt(c, i) || math.IsNaN(kept.Values[c][i]) == kept.StateAt(c, i).Usable() {
				t.Fatalf("%s, row %d: state %d was kept as %d", keys[c], i, was.StateAt(c, i), kept.StateAt(c, i))
			}
		}
	}
}

// until stops the sampling after so many rows.
type until struct {
	*session.Session
	rows uint64
	stop func()
}

func (u *until) Publish(r telemetry.Row) {
	u.Session.Publish(r)
	if r.Seq == u.rows {
		u.stop()
	}
}
