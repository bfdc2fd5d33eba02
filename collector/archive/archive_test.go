package archive

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/session"
	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
)

func open(t testing.TB, path string) *Store {
	t.Helper()
	s, err := Open(path, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func newStore(t testing.TB) *Store { return open(t, filepath.Join(t.TempDir(), "a", "sessions.db")) }

// recording is the real recording of testdata.
func recording(t testing.TB) *telemetry.Trace {
	t.Helper()
	f, err := os.Open("../../testdata/traces/accelerator-full-load.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	trace, err := tracefile.Read(f, tracefile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return trace
}

func bench(id string) *session.Session {
	return session.New(session.Info{ID: id, Start: time.Date(2026, 3, 1, 20, 15, 0, 5e8, time.UTC), Host: "bench", System: "linux",
		Origin: session.Live, Period: 100 * time.Millisecond},
		[]telemetry.Channel{
			{Key: "a/power", Name: "package power", Quantity: quantity.Power, Role: telemetry.RolePower, Source: "a", Device: "d", Refresh: time.Millisecond},
			{Key: "a/energy", Name: "package energy", Quantity: quantity.Energy, Role: telemetry.RoleEnergy},
			{Key: "a/reasons", Name: "reasons", Quantity: quantity.Bits, Role: telemetry.RoleReasons, Bits: []telemetry.ReasonBit{{Mask: 4, Name: "cap", Limiter: "power-long"}}},
			{Key: "a/stage", Name: "stage", Quantity: quantity.Label, Labels: []string{"rest", "load"}},
		}, []telemetry.Setting{{Key: "cooler", Value: "plate"}, {Key: "paste", Value: "factory"}})
}

// publish gives a session rows from..to at 10 Hz, with a gap in the power every 7th row.
func publish(s *session.Session, from, to int) {
	channels := s.Ring().Channels()
	for i := from; i <= to; i++ {
		row := telemetry.Row{At: float64(i-1) / 10, Values: make([]float64, channels), States: make([]telemetry.State, channels)}
		for k := range row.Values {
			row.Values[k], row.States[k] = float64(i%50)+0.125*float64(k), telemetry.Fresh
		}
		row.Values[1] = 1e9 + float64(i)*0.001
		row.Values[2], row.Values[3] = float64(uint64(1)<<40+4), float64(i%2)
		if i%7 == 0 {
			row.Values[0], row.States[0] = math.NaN(), telemetry.GapIO
		}
		if i%5 == 0 {
			row.States[1] = telemetry.Held
		}
		s.Publish(row)
	}
}

func load(t testing.TB, s *Store, id string) *telemetry.Trace {
	t.Helper()
	trace, err := s.Load(context.Background(), id)
	if err != nil {
		t.Fatal(err)
	}
	return trace
}

func only(t testing.TB, s *Store) Entry {
	t.Helper()
	list, err := s.Sessions(context.Background(), Filter{})
	if err != nil || len(list) != 1 {
		t.Fatalf("%d sessions, %v", len(list), err)
	}
	return list[0]
}

func sameColumn(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return x == y || math.IsNaN(x) && math.IsNaN(y) })
}

func compare(t testing.TB, got, want *telemetry.Trace) {
	t.Helper()
	if !got.Start.Equal(want.Start) || got.Simulated != want.Simulated || !slices.Equal(got.Time, want.Time) {
		t.Errorf("start %v, %d times, not %v, %d", got.Start, len(got.Time), want.Start, len(want.Time))
	}
	if !slices.Equal(got.Setup, want.Setup) || !slices.Equal(got.Marks, want.Marks) || !slices.Equal(got.Scores, want.Scores) {
		t.Errorf("setup %v, marks %v, not %v, %v", got.Setup, got.Marks, want.Setup, want.Marks)
	}
	if len(got.Channels) != len(want.Channels) {
		t.Fatalf("%d channels, not %d", len(got.Channels), len(want.Channels))
	}
	for i, g := range got.Channels {
		w := want.Channels[i]
		if g.Key != w.Key || g.Name != w.Name || g.Quantity != w.Quantity || g.Role != w.Role || g.Source != w.Source || g.Device != w.Device ||
			g.Refresh != w.Refresh || !slices.Equal(g.Labels, w.Labels) || !slices.Equal(g.Bits, w.Bits) || g.Simulated != w.Simulated {
			t.Errorf("channel %+v, not %+v", g, w)
		}
		if !sameColumn(got.Values[i], want.Values[i]) {
			t.Errorf("values of %s differ", g.Name)
		}
		for r := range want.Time {
			if got.StateAt(i, r) != want.StateAt(i, r) {
				t.Fatalf("%s row %d is %v, not %v", g.Name, r, got.StateAt(i, r), want.StateAt(i, r))
			}
		}
	}
}

// TestRecord: what a session showed is in the archive after each flush, packed and
// unpacked alike.
func TestRecord(t *testing.T) {
	s, from := newStore(t), bench("20260301-201500-abc")
	r := s.recorder(from)
	if err := r.flush(); err != nil {
		t.Fatal(err)
	}
	publish(from, 1, 1300)
	mark := from.Mark(telemetry.Mark{At: 3, Text: "panel off"})
	if err := r.flush(); err != nil {
		t.Fatal(err)
	}
	compare(t, load(t, s, Last), from.Trace())
	if e := only(t, s); e.State != StateRecording || e.Rows != 1300 || e.Length != 129900*time.Millisecond || e.Marks != 1 || e.Channels != 4 || len(e.Setup) != 2 || e.Host != "bench" {
		t.Errorf("%+v", e)
	}

	if err := from.EditMark(mark.ID, "panel on"); err != nil {
		t.Fatal(err)
	}
	from.SetSetting("cooler", "fan cooler")
	from.SetSetting("paste", "")
	from.AddChannels([]telemetry.Channel{{Key: "late", Name: "late", Quantity: quantity.Temperature}})
	publish(from, 1301, 3000)
	from.End("enough")
	r.finish("enough")
	compare(t, load(t, s, "20260301"), from.Trace())
	e := only(t, s)
	if e.State != StateClosed || e.Why != "enough" || e.Rows != 3000 || e.Channels != 5 || e.Bytes == 0 || e.Bytes > 3000*8 {
		t.Errorf("%+v", e)
	}
	if st := r.Status(); st.Activity != Closed || st.Rows != 3000 || st.Lost != 0 || st.Err != nil {
		t.Errorf("%+v", st)
	}
	history, err := s.History(context.Background(), Last)
	if err != nil || len(history) != 3 || history[0].Before != "panel off" || history[1].Before != "plate" || history[2].Before != "factory" {
		t.Errorf("history %+v, %v", history, err)
	}
	var plain int
	if s.read.QueryRow("SELECT count(*) FROM block WHERE form = 0").Scan(&plain); plain != 0 {
		t.Errorf("%d plain blocks are left", plain)
	}
	if _, err := os.Stat(s.lockPath(e.ID)); !os.IsNotExist(err) {
		t.Errorf("the lock is still there: %v", err)
	}
}

// TestRecordRuns: the goroutine does what the steps do.
func TestRecordRuns(t *testing.T) {
	s, from := newStore(t), bench("20260301-201500-abc")
	s.every = time.Millisecond
	r := s.Record(context.Background(), from)
	publish(from, 1, 500)
	from.End("enough")
	<-r.Done()
	compare(t, load(t, s, Last), from.Trace())

	ctx, cancel := context.WithCancel(context.Background())
	from = bench("20260301-201501-abc")
	r = s.Record(ctx, from)
	publish(from, 1, 50)
	cancel()
	<-r.Done()
	compare(t, load(t, s, from.Info().ID), from.Trace())
	if e, _ := s.Sessions(context.Background(), Filter{Limit: 1}); e[0].Why != "the program was stopped" || e[0].State != StateClosed {
		t.Errorf("%+v", e)
	}
}

// TestImport: the real recording goes in and comes out to the last digit.
func TestImport(t *testing.T) {
	s, trace := newStore(t), recording(t)
	id, err := s.Import(context.Background(), trace, "full load")
	if err != nil {
		t.Fatal(err)
	}
	got := load(t, s, id)
	compare(t, got, trace)
	if got.States != nil {
		t.Error("states that no file stated")
	}
	compare(t, load(t, s, "full load"), trace)
}
