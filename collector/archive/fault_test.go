package archive

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	sqlite3 "modernc.org/sqlite/lib"

	"soakline/collector/ring"
	"soakline/collector/session"
	"soakline/collector/telemetry"
)

func integrity(t testing.TB, s *Store) {
	t.Helper()
	var said string
	if err := s.read.QueryRow("PRAGMA integrity_check").Scan(&said); err != nil || said != "ok" {
		t.Errorf("integrity check: %q, %v", said, err)
	}
	var orphans int
	if err := s.read.QueryRow("SELECT count(*) FROM pragma_foreign_key_check").Scan(&orphans); err != nil || orphans != 0 {
		t.Errorf("%d orphans, %v", orphans, err)
	}
}

// crashed records so many flushes of ten rows, then copies file and log as a crash would
// leave them. The lock stays behind in this process and is not copied.
func crashed(t *testing.T, flushes int) (folder string) {
	s, from := newStore(t), bench("20260301-201500-abc")
	r := s.recorder(from)
	for i := range flushes {
		publish(from, i*10+1, i*10+10)
		from.Mark(telemetry.Mark{Text: fmt.Sprint("second ", i)})
		if err := r.flush(); err != nil {
			t.Fatal(err)
		}
	}
	folder = t.TempDir()
	copyFile(t, s.path, filepath.Join(folder, "sessions.db"))
	copyFile(t, s.path+"-wal", filepath.Join(folder, "sessions.db-wal"))
	r.lock.release()
	return folder
}

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	b, err := os.ReadFile(from)
	if err == nil {
		err = os.WriteFile(to, b, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// TestBrokenOff: what a crash left is closed by the next Open, its last second named.
func TestBrokenOff(t *testing.T) {
	s := open(t, filepath.Join(crashed(t, 3), "sessions.db"))
	integrity(t, s)
	e := only(t, s)
	if e.State != StateBroken || e.Rows != 30 || e.Why != "the recording broke off after 2.9 s" || e.Marks != 4 {
		t.Errorf("%+v", e)
	}
	marks := load(t, s, Last).Marks
	if m := marks[len(marks)-1]; m.Text != BrokenOff || m.At != 2.9 || m.Kind != telemetry.MarkMachine {
		t.Errorf("last mark %+v", m)
	}
	if err := s.Tidy(context.Background()); err != nil {
		t.Fatal(err)
	}
	if n := len(load(t, s, Last).Time); n != 30 {
		t.Errorf("%d rows once packed", n)
	}
}

// TestLogTail: however the end of the log is damaged, the seconds before are there.
func TestLogTail(t *testing.T) {
	const flushes = 8
	whole := crashed(t, flushes)
	random := rand.New(rand.NewPCG(1, 2))
	faults := map[string]func(b []byte) []byte{
		"cut":     func(b []byte) []byte { return b[:random.IntN(len(b))] },
		"flipped": func(b []byte) []byte { b[random.IntN(len(b))] ^= 1 << random.IntN(8); return b },
		"zeroed":  func(b []byte) []byte { at := random.IntN(len(b)); clear(b[at:min(at+4096, len(b))]); return b },
		"rubbish": func(b []byte) []byte { return append(b, "not a frame"...) },
	}
	for name, fault := range faults {
		for i := range 5 {
			folder := t.TempDir()
			copyFile(t, filepath.Join(whole, "sessions.db"), filepath.Join(folder, "sessions.db"))
			wal, err := os.ReadFile(filepath.Join(whole, "sessions.db-wal"))
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(folder, "sessions.db-wal"), fault(wal), 0o600); err != nil {
				t.Fatal(err)
			}
			s := open(t, filepath.Join(folder, "sessions.db"))
			integrity(t, s)
			list, err := s.Sessions(context.Background(), Filter{})
			if err != nil || len(list) > 1 {
				t.Fatalf("%s %d: %d sessions, %v", name, i, len(list), err)
			}
			if len(list) == 0 {
				continue // the damage was before the session's first second
			}
			if rows := len(load(t, s, Last).Time); rows%10 != 0 || rows > 10*flushes || list[0].State != StateBroken || list[0].Marks != rows/10+1 {
				t.Errorf("%s %d: %d rows, %+v", name, i, rows, list[0])
			}
			if name == "rubbish" && list[0].Rows != 10*flushes {
				t.Errorf("rubbish behind the log cost rows: %d are left", list[0].Rows)
			}
		}
	}
}

// TestDamagedFile: a file that is cut or was never an archive is a clear error.
func TestDamagedFile(t *testing.T) {
	s := newStore(t)
	if _, err := s.Import(context.Background(), recording(t), "whole"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	whole, err := os.ReadFile(s.path)
	if err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string][]byte{
		"half":       whole[:len(whole)/2],
		"first page": whole[:4096],
		"header":     whole[:100],
		"some text":  []byte(strings.Repeat("time [s],package power [W]\n", 100)),
	} {
		path := filepath.Join(t.TempDir(), "sessions.db")
		if err := os.WriteFile(path, content, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := Open(path, nil)
		if err == nil {
			_, err = s.Load(context.Background(), Last)
			s.Close()
		}
		var told *Error
		if !errors.As(err, &told) || told.Hint != damaged {
			t.Errorf("%s: %v", name, err)
		}
		if after, _ := os.ReadFile(path); len(after) < len(content) {
			t.Errorf("%s: the damaged file has shrunk to %d bytes", name, len(after))
		}
	}
}

// TestDamagedBlock: the checksum of a packed block finds a flipped bit.
func TestDamagedBlock(t *testing.T) {
	s := newStore(t)
	if _, err := s.Import(context.Background(), recording(t), ""); err != nil {
		t.Fatal(err)
	}
	var b []byte
	if err := s.write.QueryRow("SELECT data FROM block WHERE first = 1").Scan(&b); err != nil {
		t.Fatal(err)
	}
	b[len(b)/2] ^= 4
	if _, err := s.write.Exec("UPDATE block SET data = ? WHERE first = 1", b); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Load(context.Background(), Last); !errors.Is(err, ErrDamaged) {
		t.Errorf("error is %v", err)
	}
}

// TestFullDisk: a full disk pauses the recording; when there is room again nothing is lost.
func TestFullDisk(t *testing.T) {
	s, from := newStore(t), bench("20260301-201500-abc")
	r := s.recorder(from)
	publish(from, 1, 100)
	if err := r.flush(); err != nil {
		t.Fatal(err)
	}
	limit := func(pages int) {
		if _, err := s.write.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages)); err != nil {
			t.Fatal(err)
		}
	}
	limit(1) // SQLite takes the present size
	publish(from, 101, 3000)
	from.Mark(telemetry.Mark{Text: "meanwhile"})
	for range 3 {
		r.flush()
		st := r.Status()
		if st.Activity != Paused || st.Rows != 100 || st.Err == nil || !strings.Contains(st.Err.Error(), "The disk is full: free some space") {
			t.Fatalf("%+v", st)
		}
	}
	if n := len(load(t, s, Last).Time); n != 100 {
		t.Errorf("%d rows are readable while it is paused", n)
	}
	limit(1 << 30)
	if err := r.flush(); err != nil {
		t.Fatal(err)
	}
	if st := r.Status(); st.Activity != Recording || st.Err != nil || st.Rows != 3000 || st.Lost != 0 {
		t.Errorf("%+v", st)
	}
	compare(t, load(t, s, Last), from.Trace())
	r.finish("")
	integrity(t, s)
}

// TestNeverRoom: a disk that stays full does not keep the program from ending; the
// session is closed by the next Open.
func TestNeverRoom(t *testing.T) {
	s, from := newStore(t), bench("20260301-201500-abc")
	s.every, s.patience = time.Millisecond, 20*time.Millisecond
	publish(from, 1, 100)
	r := s.Record(context.Background(), from)
	for r.Status().Rows < 100 {
		time.Sleep(time.Millisecond)
	}
	if _, err := s.write.Exec("PRAGMA max_page_count = 1"); err != nil {
		t.Fatal(err)
	}
	publish(from, 101, 5000)
	from.End("enough")
	<-r.Done()
	// A last few rows may still find room in a page that was there; what was called safe
	// is what the archive holds.
	st := r.Status()
	if st.Activity != Closed || code(st.Err) != sqlite3.SQLITE_FULL || st.Rows < 100 || st.Rows >= 5000 {
		t.Errorf("%+v", st)
	}
	if e := only(t, open(t, s.path)); e.State != StateBroken || e.Rows != int64(st.Rows) {
		t.Errorf("%d rows were called safe, the archive holds %+v", st.Rows, e)
	}
}

// TestLongPause: rows that the ring had to drop in the meantime are counted and marked.
func TestLongPause(t *testing.T) {
	s := newStore(t)
	plain := bench("20260301-201500-abc")
	chs, _ := plain.Channels()
	from := session.NewSized(plain.Info(), ring.Config{RawSpan: 10 * time.Second}, chs, nil)
	r := s.recorder(from)
	publish(from, 1, 10)
	if err := r.flush(); err != nil {
		t.Fatal(err)
	}
	publish(from, 11, 1000)
	if err := r.flush(); err != nil {
		t.Fatal(err)
	}
	lost := r.Status().Lost
	trace := load(t, s, Last)
	if lost == 0 || uint64(len(trace.Time))+lost != 1000 || len(trace.Marks) != 1 {
		t.Fatalf("%d lost, %d rows, marks %v", lost, len(trace.Time), trace.Marks)
	}
	if m := trace.Marks[0]; m.At != trace.Time[10] || m.Text != fmt.Sprintf("%d rows before this one could not be stored", lost) {
		t.Errorf("mark %+v", m)
	}
	r.finish("")
	if n := len(load(t, s, Last).Time); n != len(trace.Time) {
		t.Errorf("%d rows once packed, not %d", n, len(trace.Time))
	}
}

// TestSecondProcess: two programs record into one file while a third lists and loads;
// a session that somebody records is never taken for a broken one.
func TestSecondProcess(t *testing.T) {
	a := newStore(t)
	b := open(t, a.path)
	a.every, b.every = time.Millisecond, time.Millisecond
	one, two := bench("20260301-201500-aaa"), bench("20260301-201500-bbb")
	ra, rb := a.Record(context.Background(), one), b.Record(context.Background(), two)
	for i := range 40 {
		publish(one, i*10+1, i*10+10)
		publish(two, i*10+1, i*10+10)
		c := open(t, a.path)
		list, err := c.Sessions(context.Background(), Filter{})
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range list {
			if trace := load(t, c, e.ID); e.State != StateRecording || int64(len(trace.Time)) < e.Rows {
				t.Fatalf("%d rows loaded of %+v", len(trace.Time), e)
			}
			if err := c.Delete(context.Background(), e.ID); !errors.Is(err, ErrRecording) {
				t.Fatalf("delete while recording: %v", err)
			}
		}
		c.Close()
	}
	one.End("")
	two.End("")
	<-ra.Done()
	<-rb.Done()
	compare(t, load(t, b, one.Info().ID), one.Trace())
	compare(t, load(t, a, two.Info().ID), two.Trace())
	integrity(t, a)
}

// TestSameSession: two recorders never write one session.
func TestSameSession(t *testing.T) {
	s, from := newStore(t), bench("20260301-201500-abc")
	publish(from, 1, 10)
	if err := s.recorder(from).flush(); err != nil {
		t.Fatal(err)
	}
	if err := open(t, s.path).recorder(from).flush(); !errors.Is(err, errHeld) {
		t.Errorf("error is %v", err)
	}
}

// TestFlushes: every commit reaches the disk itself, which no killed process can show:
// the log is flushed at each (SQLite, PRAGMA synchronous: 2 is FULL).
func TestFlushes(t *testing.T) {
	s := newStore(t)
	var mode string
	var level, keys int
	for pragma, to := range map[string]any{"journal_mode": &mode, "synchronous": &level, "foreign_keys": &keys} {
		if err := s.write.QueryRow("PRAGMA " + pragma).Scan(to); err != nil {
			t.Fatal(err)
		}
	}
	if mode != "wal" || level != 2 || keys != 1 {
		t.Errorf("journal_mode %s, synchronous %d, foreign_keys %d", mode, level, keys)
	}
}

func TestMigrations(t *testing.T) {
	path := filepath.Join(t.TempDir(), "sessions.db")
	s := open(t, path)
	if _, err := s.Import(context.Background(), recording(t), "old"); err != nil {
		t.Fatal(err)
	}
	next := append(migrations[:len(migrations):len(migrations)], "ALTER TABLE session ADD COLUMN extra TEXT")
	if err := migrate(s.write, next); err != nil {
		t.Fatal(err)
	}
	if err := migrate(s.write, next); err != nil {
		t.Fatalf("a second time: %v", err)
	}
	if n := len(load(t, s, "old").Time); n != 8900 {
		t.Errorf("%d rows after the migration", n)
	}
	s.Close()
	if _, err := Open(path, nil); !errors.Is(err, ErrNewer) || !strings.Contains(err.Error(), "schema version 3, this program knows 2") {
		t.Errorf("error is %v", err)
	}
}
