package sampler

import (
	"math"
	"testing"
	"testing/synctest"
	"time"

	"soakline/collector/telemetry"
)

// TestBadReadersLeaveOthersAlone puts one bad reader between two good ones of the same
// source. Whatever it does, the good ones are measured in every row, less than a period
// after the deadline, and the bad one's channels are gaps with the right reason.
func TestBadReadersLeaveOthersAlone(t *testing.T) {
	forever := func(release chan struct{}) func(time.Duration, []telemetry.Reading) {
		return func(time.Duration, []telemetry.Reading) { <-release }
	}
	gap := func(s telemetry.State) func(time.Duration, []telemetry.Reading) {
		return func(_ time.Duration, out []telemetry.Reading) { out[0].State = s }
	}
	nth := 0
	for _, c := range []struct {
		name string
		read func(release chan struct{}) func(time.Duration, []telemetry.Reading)
		want func(t *testing.T, states []telemetry.State)
	}{
		{"takes 470 ms", func(chan struct{}) func(time.Duration, []telemetry.Reading) {
			return func(at time.Duration, out []telemetry.Reading) { time.Sleep(470 * time.Millisecond); stamp(at, out) }
		}, func(t *testing.T, states []telemetry.State) {
			// Lost while the first read hangs, then read once a second.
			fresh := count(states, telemetry.Fresh)
			if count(states[:5], telemetry.GapTimeout) != 5 || fresh < 9 || fresh > 12 || count(states[5:], telemetry.Held) != 95-fresh {
				t.Error(states)
			}
		}},
		{"hangs for ever", forever, func(t *testing.T, states []telemetry.State) {
			if count(states, telemetry.GapTimeout) != 100 {
				t.Error(states)
			}
		}},
		{"hangs from the 20th read on", func(release chan struct{}) func(time.Duration, []telemetry.Reading) {
			n := 0
			return func(at time.Duration, out []telemetry.Reading) {
				if n++; n >= 20 {
					<-release
				}
				stamp(at, out)
			}
		}, func(t *testing.T, states []telemetry.State) {
			if count(states[:19], telemetry.Fresh) != 19 || count(states[19:], telemetry.GapTimeout) != 81 {
				t.Error(states)
			}
		}},
		{"EIO", func(chan struct{}) func(time.Duration, []telemetry.Reading) { return gap(telemetry.GapIO) },
			func(t *testing.T, states []telemetry.State) {
				if count(states, telemetry.GapIO) != 100 {
					t.Error(states)
				}
			}},
		{"panics", func(chan struct{}) func(time.Duration, []telemetry.Reading) {
			return func(time.Duration, []telemetry.Reading) { panic("rubbish") }
		}, func(t *testing.T, states []telemetry.State) {
			if count(states, telemetry.GapIO) != 100 {
				t.Error(states)
			}
		}},
		{"fills in nothing", func(chan struct{}) func(time.Duration, []telemetry.Reading) {
			return func(at time.Duration, out []telemetry.Reading) {
				if nth++; nth%2 == 1 {
					stamp(at, out)
				}
			}
		}, func(t *testing.T, states []telemetry.State) {
			if count(states, telemetry.Fresh) != 50 || count(states, telemetry.NoData) != 50 {
				t.Error(states)
			}
		}},
		{"not a number", func(chan struct{}) func(time.Duration, []telemetry.Reading) {
			return func(_ time.Duration, out []telemetry.Reading) {
				nth++
				out[0] = telemetry.Reading{Value: []float64{math.NaN(), math.Inf(1), math.Inf(-1)}[nth%3], State: telemetry.Fresh}
			}
		}, func(t *testing.T, states []telemetry.State) {
			if count(states, telemetry.GapImplausible) != 100 {
				t.Error(states)
			}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				release := make(chan struct{})
				before, bad, after := &fakeReader{read: stamp}, &fakeReader{read: c.read(release)}, &fakeReader{read: stamp}
				s, rec := sample(t, 100, Config{}, release, sourceOf("fake", group1("before", before), group1("bad", bad), group1("after", after)))
				punctual(t, rec, 0)
				punctual(t, rec, 2)
				c.want(t, rec.states(1))
				for _, r := range []*fakeReader{before, bad, after} {
					if _, closed := r.count(); closed != 1 {
						t.Errorf("closed %d times", closed)
					}
				}
				if st := s.Stats(); st.Ticks != 100 || st.Skipped != 0 || st.LateMax != 0 {
					t.Errorf("%+v", st)
				}
				for _, row := range rec.rows {
					for i, state := range row.States {
						if nan := row.Values[i] != row.Values[i]; nan == state.Usable() {
							t.Fatalf("value %v beside state %v", row.Values[i], state)
						}
					}
				}
			})
		})
	}
}

// TestManyHangsAtOnce: three readers of six stop coming back in the same tick.
func TestManyHangsAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		var groups []telemetry.Group
		for _, key := range []string{"a", "B", "C", "d", "E", "f"} {
			read := stamp
			if key < "a" {
				n := 0
				read = func(at time.Duration, out []telemetry.Reading) {
					if n++; n > 10 {
						<-release
					}
					stamp(at, out)
				}
			}
			groups = append(groups, group1(key, &fakeReader{read: read}))
		}
		_, rec := sample(t, 40, Config{}, release, sourceOf("fake", groups...))
		for _, c := range []int{0, 3, 5} {
			punctual(t, rec, c)
		}
	})
}

// TestMassHang: twelve readers of a bus hang from the same tick on. No tick is lost; they
// are left behind a few a tick, a good reader of the same bus behind them is back after
// three rows, and one of another source never misses a row.
func TestMassHang(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		var groups []telemetry.Group
		for i := range 12 {
			n := 0
			groups = append(groups, group1(string(rune('A'+i)), &fakeReader{read: func(at time.Duration, out []telemetry.Reading) {
				if n++; n > 10 {
					<-release
				}
				stamp(at, out)
			}}))
		}
		s, rec := sample(t, 40, Config{}, release, sourceOf("bus", append(groups, group1("good", &fakeReader{read: stamp}))...),
			sourceOf("other", group1("best", &fakeReader{read: stamp})))
		punctual(t, rec, 13)
		if st := s.Stats(); st.Skipped != 0 || st.LateMax > time.Millisecond {
			t.Errorf("%+v", st)
		}
		good := rec.states(12)
		if count(good[:10], telemetry.Fresh) != 10 || count(good[13:], telemetry.Fresh) != 27 {
			t.Error(good)
		}
	})
}

// TestWatch: a watch gives nobody up before the time is over, nor, the first time, when
// its own timer comes far too late.
func TestWatch(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := &watch{timer: time.NewTimer(time.Hour)}
		g := &group{}
		for _, c := range []struct {
			wait time.Duration
			want *group
		}{{30 * time.Millisecond, nil}, {200 * time.Millisecond, nil}, {10 * time.Millisecond, nil}, {200 * time.Millisecond, g}} {
			if c.wait == 30*time.Millisecond {
				w.begin(t.Context(), tick{}, []*group{g}, 50*time.Millisecond)
			}
			time.Sleep(c.wait)
			if got := w.leave(); got != c.want {
				t.Fatalf("after another %v: %v", c.wait, got)
			}
		}
		if _, gone := w.advance(); !gone {
			t.Error("the reader is not told")
		}
	})
}

// TestSlowGroups: a group that says that it is slow is read beside the others at its own
// pace: measured once, then held; where it hangs, held for two and a half paces, then a gap.
func TestSlowGroups(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		n := 0
		slow := group1("slow", &fakeReader{read: func(at time.Duration, out []telemetry.Reading) {
			time.Sleep(30 * time.Millisecond)
			if n++; n > 3 {
				<-release
			}
			stamp(at, out)
		}})
		slow.Slow, slow.Every = true, time.Second
		_, rec := sample(t, 100, Config{}, release, sourceOf("fake", group1("fast", &fakeReader{read: stamp}), slow))
		punctual(t, rec, 0)
		st := rec.states(1)
		// Read at 0, 1 and 2 s, in the next row each; the read at 3 s hangs.
		for i, s := range st {
			want := telemetry.Held
			switch {
			case i == 0:
				want = telemetry.NoData
			case i == 1 || i == 11 || i == 21:
				want = telemetry.Fresh
			case i > 45: // measured at 2.0 s, held to 4.5 s
				want = telemetry.GapTimeout
			}
			if s != want {
				t.Fatalf("row %d: state %d, want %d: %v", i, s, want, st)
			}
		}
	})
}

// TestPace: a fast group with a pace of its own is read on time and held between.
func TestPace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := &fakeReader{read: stamp}
		g := group1("paced", r)
		g.Every = 300 * time.Millisecond
		_, rec := sample(t, 30, Config{}, nil, sourceOf("fake", g))
		for i, s := range rec.states(0) {
			if want := map[bool]telemetry.State{true: telemetry.Fresh, false: telemetry.Held}[i%3 == 0]; s != want {
				t.Fatalf("row %d is %d", i, s)
			}
		}
		if n, _ := r.count(); n != 10 {
			t.Errorf("%d reads", n)
		}
	})
}

// TestSlowForAWhile: a group whose reads take 8 ms for a while is read once a second
// beside the others, and every tick again when they have been quick ten times.
func TestSlowForAWhile(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := 0
		moody := &fakeReader{read: func(at time.Duration, out []telemetry.Reading) {
			if n++; n > 10 && n <= 15 {
				time.Sleep(8 * time.Millisecond)
			}
			stamp(at, out)
		}}
		s, rec := sample(t, 300, Config{}, nil, sourceOf("fake", group1("good", &fakeReader{read: stamp}), group1("moody", moody)))
		punctual(t, rec, 0)
		st := rec.states(1)
		if count(st[:13], telemetry.Fresh) != 13 { // 10 quick, 3 slow
			t.Error("too early", st[:14])
		}
		if n := count(st[13:130], telemetry.Fresh); n < 10 || n > 14 {
			t.Errorf("%d reads while slow", n)
		}
		if n := count(st[150:], telemetry.Fresh); n != 150 {
			t.Errorf("%d of 150 rows measured after it was quick again", n)
		}
		if c := s.Costs()[1]; c.Max != 8*time.Millisecond || c.Median != 0 || c.Slow || c.Reads == 0 {
			t.Errorf("%+v", c)
		}
	})
}
