package powercut

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"soakline/collector/archive"
	"soakline/collector/kerneltest/guest"
	"soakline/collector/quantity"
	"soakline/collector/session"
	"soakline/collector/telemetry"
)

// TestMain is the guest's first process where it is /init.
func TestMain(m *testing.M) {
	if guest.Inside() {
		guest.Off(inside())
	}
	os.Exit(m.Run())
}

// inside is what the guest does.
func inside() error {
	if err := guest.Mount(); err != nil {
		return err
	}
	if err := guest.Load(); err != nil {
		return err
	}
	if err := waitForDisk(); err != nil {
		return err
	}
	switch guest.Word("t.mode") {
	case "record":
		return record("")
	case "control":
		return record("barrier=0")
	}
	return check()
}

func waitForDisk() error {
	for range 100 {
		if disks, _ := filepath.Glob("/dev/vd*"); len(disks) > 0 {
			return nil
		}
		time.Sleep(50 * time.Millisecond)
	}
	return fmt.Errorf("no disk")
}

// record records ten rows a second until the power is cut, and tells each row with the
// rows that the archive has acknowledged and the longest times that it was held up.
func record(options string) error {
	os.MkdirAll("/data", 0o755)
	if err := syscall.Mount("/dev/vda", "/data", "ext4", 0, options); err != nil {
		return fmt.Errorf("mount: %w", err)
	}
	store, err := archive.Open("/data/sessions.db", nil)
	if err != nil {
		return err
	}
	s := session.New(session.Info{ID: "20260301-201500-abc", Start: time.Date(2026, 3, 1, 20, 15, 0, 0, time.UTC), Origin: session.Live, Period: 100 * time.Millisecond},
		[]telemetry.Channel{{Key: "p", Name: "package power", Quantity: quantity.Power}, {Key: "t", Name: "die", Quantity: quantity.Temperature}}, nil)
	r := store.Record(context.Background(), s)
	begun, last := time.Now(), time.Duration(0)
	var stall, commit time.Duration
	for i := 1; ; i++ {
		time.Sleep(100 * time.Millisecond)
		at := time.Since(begun)
		stall, last = max(stall, at-last-100*time.Millisecond), at
		s.Publish(telemetry.Row{At: at.Seconds(), Values: []float64{float64(i), 40}, States: []telemetry.State{1, 1}})
		st := r.Status()
		commit = max(commit, st.Commit)
		fmt.Printf("T %.3f %d %.3f %.3f\n", at.Seconds(), st.Rows, stall.Seconds(), commit.Seconds())
		if i%7 == 0 {
			fmt.Printf("M %.3f\n", s.Mark(telemetry.Mark{At: -1, Text: "mark"}).At)
		}
		if st.Err != nil {
			return st.Err
		}
	}
}

// check opens the archive of every disk, as the next start after a cut would, and tells
// what is in it.
func check() error {
	disks, _ := filepath.Glob("/dev/vd*")
	for i, path := range disks {
		at := fmt.Sprintf("/image%d", i)
		os.MkdirAll(at, 0o755)
		if err := checkOne(path, at); err != nil {
			fmt.Printf("I %d bad %s\n", i, strings.ReplaceAll(err.Error(), "\n", " "))
		}
	}
	fmt.Println("DONE")
	return nil
}

func checkOne(disk, at string) error {
	if err := syscall.Mount(disk, at, "ext4", 0, ""); err != nil { // replays its journal
		return fmt.Errorf("mount: %w", err)
	}
	file := filepath.Join(at, "sessions.db")
	if _, err := os.Stat(file); err != nil {
		return err
	}
	store, err := archive.Open(file, nil)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := integrity(file); err != nil {
		return err
	}
	list, err := store.Sessions(context.Background(), archive.Filter{})
	if err != nil {
		return err
	}
	if len(list) != 1 {
		return fmt.Errorf("%d sessions", len(list))
	}
	trace, err := store.Load(context.Background(), archive.Last)
	if err != nil {
		return err
	}
	for i, v := range trace.Values[0] {
		if v != float64(i+1) {
			return fmt.Errorf("row %d holds %g", i+1, v)
		}
	}
	var marks []string
	end := ""
	for _, m := range trace.Marks {
		if m.Text == archive.BrokenOff {
			end = fmt.Sprintf("%.3f", m.At)
		} else {
			marks = append(marks, fmt.Sprintf("%.3f", m.At))
		}
	}
	fmt.Printf("I %s ok %d %.3f %s %s %s\n", strings.TrimPrefix(at, "/image"), len(trace.Time), trace.Time[len(trace.Time)-1],
		strings.ReplaceAll(string(list[0].State), " ", "-"), end, strings.Join(marks, ","))
	return nil
}

func integrity(file string) error {
	db, err := sql.Open("sqlite", file)
	if err != nil {
		return err
	}
	defer db.Close()
	var said string
	if err := db.QueryRow("PRAGMA integrity_check").Scan(&said); err != nil || said != "ok" {
		return fmt.Errorf("integrity: %s, %w", said, err)
	}
	return nil
}
