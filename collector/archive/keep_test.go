package archive

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"soakline/collector/session"
	"soakline/collector/telemetry"
)

// ids lists what a filter finds, the newest first.
func ids(t *testing.T, s *Store, f Filter) []string {
	t.Helper()
	list, err := s.Sessions(context.Background(), f)
	if err != nil {
		t.Fatal(err)
	}
	out := []string{}
	for _, e := range list {
		out = append(out, e.ID)
	}
	return out
}

// TestDelete: a deleted session is off every list, comes back whole, and is gone once it
// is purged or was deleted long ago.
func TestDelete(t *testing.T) {
	s, ctx := newStore(t), context.Background()
	day := time.Date(2026, 3, 1, 20, 15, 0, 0, time.UTC)
	s.now = func() time.Time { return day }
	id := small(t, s, "stock")
	before := load(t, s, id)
	if err := s.Delete(ctx, "stock"); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Load(ctx, id); !errors.Is(err, ErrNotFound) || len(ids(t, s, Filter{})) != 0 {
		t.Errorf("a deleted session is still there: %v", err)
	}
	if got := ids(t, s, Filter{Deleted: true}); !slices.Equal(got, []string{id}) {
		t.Errorf("deleted are %v", got)
	}
	if got, err := s.Restore(ctx, Last); err != nil || got != id {
		t.Fatalf("%q, %v", got, err)
	}
	compare(t, load(t, s, Last), before)
	if _, err := s.Restore(ctx, Last); !errors.Is(err, ErrNotFound) {
		t.Errorf("restored what was not deleted: %v", err)
	}

	for _, later := range []time.Duration{undoFor - time.Second, undoFor + time.Second} {
		if err := s.Delete(ctx, id); err != nil && later < undoFor {
			t.Fatal(err)
		}
		day = day.Add(later)
		if err := s.Tidy(ctx); err != nil {
			t.Fatal(err)
		}
		_, err := s.Restore(ctx, id)
		if (err == nil) != (later < undoFor) {
			t.Errorf("%v after the deletion: %v", later, err)
		}
		if err == nil {
			s.Delete(ctx, id)
		}
	}
	small(t, s, "second")
	s.Delete(ctx, Last)
	if n, err := s.Purge(ctx); n != 1 || err != nil {
		t.Errorf("%d purged, %v", n, err)
	}
	var blocks int
	if s.read.QueryRow("SELECT count(*) FROM block").Scan(&blocks); blocks != 0 {
		t.Errorf("%d blocks are left", blocks)
	}
	integrity(t, s)
}

// TestKeep: by age and by size the oldest go, never one that is pinned, recording, or the
// newest of all; off by default.
func TestKeep(t *testing.T) {
	s, ctx := newStore(t), context.Background()
	day := time.Date(2026, 3, 1, 20, 15, 0, 0, time.UTC)
	s.now = func() time.Time { return day }
	var all []string
	for i := range 5 {
		day = day.Add(24 * time.Hour)
		all = append(all, small(t, s, fmt.Sprint("day ", i)))
	}
	running := bench("20260301-201500-run")
	r := s.recorder(running)
	publish(running, 1, 100)
	if err := r.flush(); err != nil {
		t.Fatal(err)
	}
	if _, err := s.write.Exec("UPDATE session SET stored = '2026-01-01T00:00:00.000000000Z' WHERE state = 'recording'"); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(s.Pin(ctx, all[0], true), s.Tidy(ctx)); err != nil {
		t.Fatal(err)
	}
	if n := len(ids(t, s, Filter{})); n != 6 {
		t.Fatalf("%d sessions are left although nothing was to be removed", n)
	}
	if err := s.Delete(ctx, all[0]); !errors.Is(err, ErrPinned) || hint(err) == "" {
		t.Errorf("a pinned session was deleted: %v", err)
	}
	size := int64(0)
	for _, e := range must(s.Sessions(ctx, Filter{Text: "day"})) {
		size = e.Bytes
	}
	for _, tt := range []struct {
		keep Keeping
		want []string // what goes
	}{
		{Keeping{}, nil},
		{Keeping{Age: 60 * time.Hour}, all[1:2]},
		{Keeping{Bytes: 1}, all[1:4]},
		{Keeping{Bytes: 1 << 40}, nil},
		{Keeping{Bytes: only1(s, running.Info().ID) + 3*size}, all[1:3]}, // the running, the pinned and two more
	} {
		got, err := s.Expired(ctx, tt.keep)
		if err != nil || !slices.Equal(got, tt.want) && len(got)+len(tt.want) > 0 {
			t.Errorf("%+v removes %v, not %v; %v", tt.keep, got, tt.want, err)
		}
	}
	if err := errors.Join(s.Keep(ctx, Keeping{Age: 60 * time.Hour}), s.Tidy(ctx)); err != nil {
		t.Fatal(err)
	}
	if k, err := s.Kept(ctx); k.Age != 60*time.Hour || err != nil {
		t.Errorf("%+v, %v", k, err)
	}
	if got := ids(t, s, Filter{}); len(got) != 5 || slices.Contains(got, all[1]) {
		t.Errorf("left are %v of %v", got, all)
	}
	running.End("over")
	r.finish("over")
	if got := ids(t, s, Filter{}); len(got) != 4 {
		t.Errorf("the old session that was recorded is still there: %v", got)
	}
	integrity(t, s)
}

func only1(s *Store, id string) int64 {
	var n int64
	s.read.QueryRow("SELECT bytes FROM session WHERE id = ?", id).Scan(&n)
	return n
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// TestScores: recorded, corrected, listed and loaded; the original stays in the history.
func TestScores(t *testing.T) {
	s, ctx := newStore(t), context.Background()
	from := bench("20260301-201500-abc")
	r := s.recorder(from)
	publish(from, 1, 100)
	if _, err := from.AddScore(telemetry.Score{Name: "total", Value: 1510, Unit: "points", HigherIsBetter: true, At: -1}); err != nil {
		t.Fatal(err)
	}
	if err := r.flush(); err != nil {
		t.Fatal(err)
	}
	compare(t, load(t, s, Last), from.Trace())
	publish(from, 101, 200)
	from.AddScore(telemetry.Score{Value: 41.5, Unit: "s", At: -1})
	from.End("over")
	r.finish("over")
	got := load(t, s, Last)
	compare(t, got, from.Trace())
	if want := []telemetry.Score{{Name: "total", Value: 1510, Unit: "points", HigherIsBetter: true, At: 9.9}, {Name: "score", Value: 41.5, Unit: "s", At: 19.9}}; !slices.Equal(got.Scores, want) {
		t.Errorf("scores %+v", got.Scores)
	}
	if sc, err := s.SetScore(ctx, Last, telemetry.Score{Value: 40.5, Unit: "s", At: -1}); err != nil || sc.At != 19.9 {
		t.Errorf("%+v, %v", sc, err)
	}
	if e := only(t, s); len(e.Scores) != 2 || e.Scores[1].Value != 40.5 {
		t.Errorf("%+v", e.Scores)
	}
	if h, err := s.History(ctx, Last); err != nil || len(h) != 1 || h[0].What != "score" || h[0].Item != "score" || h[0].Before != "41.5 s" {
		t.Errorf("%+v, %v", h, err)
	}
	if _, err := s.SetScore(ctx, Last, telemetry.Score{Value: 1, At: 20}); err == nil {
		t.Error("a score after the session's end")
	}
	id, err := s.Import(ctx, got, "again")
	if err != nil {
		t.Fatal(err)
	}
	compare(t, load(t, s, id), got)
}

// TestLastSetup: of the same machine, not of another, of a simulated one, or of itself.
func TestLastSetup(t *testing.T) {
	s, ctx := newStore(t), context.Background()
	record := func(info session.Info, value string) session.Info {
		from := session.New(info, bench("x").Trace().Channels, []telemetry.Setting{{Key: "cooler", Value: value}})
		r := s.recorder(from)
		publish(from, 1, 10)
		from.End("")
		r.finish("")
		return info
	}
	first := record(session.Info{ID: "a", Host: "bench", Origin: session.Live}, "first")
	record(session.Info{ID: "b", Host: "other", Origin: session.Live}, "other")
	record(session.Info{ID: "c", Host: "bench", Origin: session.Rig}, "rig")
	next := session.Info{ID: "d", Host: "bench", Origin: session.Live}
	if id, setup, err := s.LastSetup(ctx, next); id != "a" || len(setup) != 1 || setup[0].Value != "first" || err != nil {
		t.Errorf("%q %v %v", id, setup, err)
	}
	if id, _, err := s.LastSetup(ctx, first); id != "" || err != nil {
		t.Errorf("the last of the first is %q, %v", id, err)
	}
}

// TestMigrate1: an archive that version 1 wrote opens, with its history.
func TestMigrate1(t *testing.T) {
	path := filepath.Join(t.TempDir(), "sessions.db")
	s := open(t, path)
	id := small(t, s, "old")
	s.SetSetting(context.Background(), id, "cooler", "other")
	want := load(t, s, id)
	if _, err := s.write.Exec(`ALTER TABLE session DROP COLUMN pinned; ALTER TABLE session DROP COLUMN deleted;
		DROP TABLE score; DROP TABLE keeping; DROP TABLE mapping; PRAGMA user_version = 1`); err != nil {
		t.Fatal(err)
	}
	s.Close()
	s = open(t, path)
	compare(t, load(t, s, id), want)
	if h, err := s.History(context.Background(), id); err != nil || len(h) != 1 {
		t.Errorf("%v, %v", h, err)
	}
	if _, err := s.SetScore(context.Background(), id, telemetry.Score{Value: 1, At: -1}); err != nil {
		t.Error(err)
	}
	integrity(t, s)
}
