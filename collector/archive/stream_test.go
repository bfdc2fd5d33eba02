package archive

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"
	"time"

	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
)

func rowsOf(t testing.TB, r io.Reader) *tracefile.Rows {
	t.Helper()
	rows, err := tracefile.NewRows(r, tracefile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// TestImportRows: the real recording, in pieces, is the recording; so is a file whose power
// is derived from a counter.
func TestImportRows(t *testing.T) {
	s, ctx := newStore(t), context.Background()
	f, err := os.Open("../../testdata/traces/accelerator-full-load.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	done, err := s.ImportRows(ctx, rowsOf(t, f), "card")
	if err != nil || done.Rows != 8900 || done.Channels != 10 {
		t.Fatalf("%+v, %v", done, err)
	}
	compare(t, load(t, s, done.ID), recording(t))
	if load(t, s, "card").States != nil {
		t.Error("states that no file stated")
	}
	text := "# start: 2026-03-01T20:15:00Z\n# score: s = 1.5, lower is better\n# setup: a = b\ntime [s],package energy [J],stage\n1,10,x\n2,15,y\n# mark: 1.5 m\n"
	want, err := tracefile.Read(strings.NewReader(text), tracefile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if done, err = s.ImportRows(ctx, rowsOf(t, strings.NewReader(text)), "counter"); err != nil {
		t.Fatal(err)
	}
	compare(t, load(t, s, done.ID), want)
	if _, err := os.Stat(s.lockPath(done.ID)); !os.IsNotExist(err) {
		t.Errorf("the lock is still there: %v", err)
	}
	integrity(t, s)
}

// endless gives rows until it fails or the test is over.
type endless struct {
	n     int
	after func(n int) error
}

func (e *endless) Next(most int) (*telemetry.Trace, error) {
	if err := e.after(e.n); err != nil {
		return nil, err
	}
	t := &telemetry.Trace{Values: [][]float64{nil}}
	for range most {
		t.Time, t.Values[0] = append(t.Time, float64(e.n)), append(t.Values[0], 5)
		e.n++
	}
	return t, nil
}

func (e *endless) Head() (*telemetry.Trace, error) {
	return &telemetry.Trace{Channels: []telemetry.Channel{{Key: "p", Name: "p"}}}, nil
}

// TestImportFails: a fault late in the file, a cancel and a crash leave nothing behind.
func TestImportFails(t *testing.T) {
	s, ctx := newStore(t), context.Background()
	broken := errors.New("line 100000 is no number")
	nothing := func(what string) {
		t.Helper()
		var sessions, blocks int
		s.read.QueryRow("SELECT (SELECT count(*) FROM session), (SELECT count(*) FROM block)").Scan(&sessions, &blocks)
		if sessions+blocks != 0 {
			t.Errorf("%s left %d sessions, %d blocks", what, sessions, blocks)
		}
	}
	_, err := s.ImportRows(ctx, &endless{after: func(n int) error {
		if n > 100_000 {
			return broken
		}
		return nil
	}}, "x")
	if !errors.Is(err, broken) {
		t.Errorf("error is %v", err)
	}
	nothing("a fault")

	ctx, cancel := context.WithCancel(context.Background())
	_, err = s.ImportRows(ctx, &endless{after: func(n int) error {
		if n > 100_000 {
			cancel()
		}
		return nil
	}}, "x")
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error is %v", err)
	}
	nothing("a cancel")

	if _, err = s.ImportRows(context.Background(), &endless{after: func(int) error { return io.EOF }}, "x"); !errors.Is(err, errNoSamples) {
		t.Errorf("error is %v", err)
	}
	nothing("an empty file")

	if _, err := s.write.Exec(`INSERT INTO session (id, stored, origin, state) VALUES ('20260301-201500-abc', '2026-03-01T20:15:00.000000000Z', 'import', 'recording')`); err != nil {
		t.Fatal(err)
	}
	path := s.path
	s.Close()
	s = open(t, path)
	nothing("a crash")
}

// TestImportBesideRecording: a recording into the same archive goes on during an import.
func TestImportBesideRecording(t *testing.T) {
	s, from := newStore(t), bench("20260301-201500-abc")
	other := open(t, s.path)
	r := other.recorder(from)
	commits := 0
	_, err := s.ImportRows(context.Background(), &endless{after: func(n int) error {
		publish(from, commits*10+1, commits*10+10)
		if err := r.flush(); err != nil {
			return err
		}
		if commits++; n > 100_000 {
			return io.EOF
		}
		return nil
	}}, "x")
	if err != nil || r.Status().Rows != uint64(commits*10) {
		t.Errorf("%v, %+v after %d commits", err, r.Status(), commits)
	}
	from.End("")
	r.finish("")
}

func TestMappings(t *testing.T) {
	s, ctx := newStore(t), context.Background()
	list := []tracefile.Assignment{{From: "Pkg", To: "package power [W]"}}
	var got []tracefile.Assignment
	if known, err := s.RecallMapping(ctx, "h", &got); known || err != nil {
		t.Errorf("%v, %v", known, err)
	}
	for range 2 {
		if err := s.RememberMapping(ctx, "h", list); err != nil {
			t.Fatal(err)
		}
	}
	if known, err := s.RecallMapping(ctx, "h", &got); !known || err != nil || !reflect.DeepEqual(got, list) {
		t.Errorf("%v, %v, %v", got, known, err)
	}
	if err := s.ForgetMapping(ctx, "h"); err != nil {
		t.Fatal(err)
	}
	if known, _ := s.RecallMapping(ctx, "h", &got); known {
		t.Error("it is still known")
	}
}

// repeated gives a CSV file of about so many bytes without holding it.
type repeated struct {
	left, row int
	rest      []byte
	pattern   [][]byte
}

func (r *repeated) Read(b []byte) (int, error) {
	for len(r.rest) < len(b) && r.left > 0 {
		from := len(r.rest)
		r.rest = fmt.Appendf(r.rest, "%d.%d,", r.row/10, r.row%10)
		r.rest = append(r.rest, r.pattern[r.row%len(r.pattern)]...)
		r.row++
		r.left -= len(r.rest) - from
	}
	if len(r.rest) == 0 {
		return 0, io.EOF
	}
	n := copy(b, r.rest)
	r.rest = append(r.rest[:0], r.rest[n:]...)
	return n, nil
}

// bigFile is the real recording over and over.
func bigFile(t testing.TB, size int) io.Reader {
	t.Helper()
	text, err := os.ReadFile("../../testdata/traces/accelerator-full-load.csv")
	if err != nil {
		t.Fatal(err)
	}
	lines := bytes.SplitAfter(text, []byte{'\n'})
	r := &repeated{left: size, rest: bytes.Clone(lines[2])}
	for _, line := range lines[3 : len(lines)-1] {
		_, cells, _ := bytes.Cut(line, []byte{','})
		r.pattern = append(r.pattern, cells)
	}
	return r
}

// BenchmarkImportRows prints the pace and the largest heap of one file of
// SOAKLINE_IMPORT_MB megabytes, 100 if it is not set.
func BenchmarkImportRows(b *testing.B) {
	size := 100
	fmt.Sscan(os.Getenv("SOAKLINE_IMPORT_MB"), &size)
	b.SetBytes(int64(size) * 1e6)
	for b.Loop() {
		s := open(b, filepath.Join(b.TempDir(), "sessions.db"))
		runtime.GC()
		stop, peak := make(chan struct{}), make(chan uint64)
		go func() {
			most := uint64(0)
			for {
				select {
				case <-stop:
					peak <- most
					return
				case <-time.After(20 * time.Millisecond):
				}
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				most = max(most, m.HeapInuse)
			}
		}()
		done, err := s.ImportRows(context.Background(), rowsOf(b, bigFile(b, size*1e6)), "big")
		close(stop)
		if err != nil {
			b.Fatal(err)
		}
		e, _ := s.Sessions(context.Background(), Filter{})
		b.ReportMetric(float64(<-peak)/1e6, "peak-heap-MB")
		b.ReportMetric(float64(e[0].Bytes)/float64(done.Rows*done.Channels), "bytes/reading")
	}
}
