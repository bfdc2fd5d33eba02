package archive_test

import (
	"context"
	"io"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"soakline/collector/archive"
	"soakline/collector/session"
	"soakline/collector/source/rig"
	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
)

func recorded(b *testing.B) *telemetry.Trace {
	f, err := os.Open("../../testdata/traces/accelerator-full-load.csv")
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	t, err := tracefile.Read(f, tracefile.Options{})
	if err != nil {
		b.Fatal(err)
	}
	return t
}

func simulated(b *testing.B, length time.Duration) *telemetry.Trace {
	machine, err := rig.New(rig.Default())
	if err != nil {
		b.Fatal(err)
	}
	t, _ := machine.Trace(100*time.Millisecond, length)
	return t
}

// play publishes a trace as a running session, second by second as the recorder keeps up.
func play(b *testing.B, s *archive.Store, t *telemetry.Trace, id string) *archive.Recorder {
	live := session.New(session.Info{ID: id, Start: time.Now(), Period: 100 * time.Millisecond}, t.Channels, t.Setup)
	r := s.Record(context.Background(), live)
	row := telemetry.Row{Values: make([]float64, len(t.Channels)), States: make([]telemetry.State, len(t.Channels))}
	for i, at := range t.Time {
		row.At = at
		for c := range t.Channels {
			row.Values[c], row.States[c] = t.Values[c][i], t.StateAt(c, i)
		}
		live.Publish(row)
		for i%6000 == 5999 && r.Status().Rows+6000 < uint64(i) {
			time.Sleep(time.Millisecond)
		}
	}
	live.End("the end")
	<-r.Done()
	return r
}

// BenchmarkBytes prints what a reading, one channel at one row, takes once the session is
// closed, beside the plain form; the budget is 3 bytes.
func BenchmarkBytes(b *testing.B) {
	traces := map[string]func(*testing.B) *telemetry.Trace{
		"recording": recorded,
		"rig hour":  func(b *testing.B) *telemetry.Trace { return simulated(b, time.Hour) },
	}
	for name, make := range traces {
		b.Run(name, func(b *testing.B) {
			t := make(b)
			s, err := archive.Open(filepath.Join(b.TempDir(), "sessions.db"), slog.New(slog.NewTextHandler(io.Discard, nil)))
			if err != nil {
				b.Fatal(err)
			}
			defer s.Close()
			var r *archive.Recorder
			for b.Loop() {
				r = play(b, s, t, time.Now().Format(time.RFC3339Nano))
			}
			readings := float64(len(t.Time) * len(t.Channels))
			list, err := s.Sessions(context.Background(), archive.Filter{Limit: 1})
			if err != nil || list[0].Rows != int64(len(t.Time)) {
				b.Fatalf("%+v, %v", list, err)
			}
			b.ReportMetric(float64(list[0].Bytes)/readings, "B/reading")
			b.ReportMetric(float64(r.Status().Bytes)/readings, "plainB/reading")
			b.ReportMetric(readings, "readings")
			s.Close()
			if f, err := os.Stat(s.Path()); err == nil { // pages and indexes included
				b.ReportMetric(float64(f.Size())/readings/float64(b.N), "fileB/reading")
			}
		})
	}
}

// BenchmarkCommit is one second of 100 channels at 10 Hz, flushed to the disk, beside a
// bare write and flush of as many bytes on the same disk in the same run.
func BenchmarkCommit(b *testing.B) {
	s, err := archive.Open(filepath.Join(b.TempDir(), "sessions.db"), nil)
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	bare, err := os.Create(filepath.Join(b.TempDir(), "bare"))
	if err != nil {
		b.Fatal(err)
	}
	defer bare.Close()
	live := session.New(session.Info{ID: "commit"}, make([]telemetry.Channel, 100), nil)
	commit := archive.Stepped(s, live)
	row := telemetry.Row{Values: make([]float64, 100), States: make([]telemetry.State, 100)}
	second := make([]byte, 10*(8+100*9))
	var floor time.Duration
	for b.Loop() {
		for range 10 {
			row.At += 0.1
			for c := range row.Values {
				row.Values[c], row.States[c] = math.Sqrt(row.At+float64(c)), telemetry.Fresh
			}
			live.Publish(row)
		}
		if err := commit(); err != nil {
			b.Fatal(err)
		}
		b.StopTimer()
		began := time.Now()
		if _, err := bare.Write(second); err != nil {
			b.Fatal(err)
		}
		if err := bare.Sync(); err != nil {
			b.Fatal(err)
		}
		floor += time.Since(began)
		b.StartTimer()
	}
	b.ReportMetric(float64(b.Elapsed())/float64(floor), "x-bare-write+fsync")
}

// BenchmarkLoad reads the real recording back from its packed form.
func BenchmarkLoad(b *testing.B) {
	s, err := archive.Open(filepath.Join(b.TempDir(), "sessions.db"), nil)
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	t := recorded(b)
	id, err := s.Import(context.Background(), t, "")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := s.Load(context.Background(), id); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N*len(t.Time)*len(t.Channels)), "ns/reading")
}
