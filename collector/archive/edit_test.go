package archive

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// small imports a trace of two rows under a name and gives its id.
func small(t *testing.T, s *Store, name string) string {
	t.Helper()
	id, err := s.Import(context.Background(), &telemetry.Trace{Time: []float64{0, 1},
		Channels: []telemetry.Channel{{Key: "p", Name: "p", Quantity: quantity.Power}}, Values: [][]float64{{1, 2}},
		Setup: []telemetry.Setting{{Key: "cooler", Value: "Plate"}, {Key: "lid", Value: "open"}},
		Marks: []telemetry.Mark{{At: 0.5, Kind: telemetry.MarkCommand, Text: "start"}}}, name)
	if err != nil {
		t.Fatal(err)
	}
	return id
}

// TestCorrections: marks and setup of a closed session can be corrected; what stood
// there stays in the history.
func TestCorrections(t *testing.T) {
	s, ctx := newStore(t), context.Background()
	id := small(t, s, "stock")
	added, err := s.SetMark(ctx, id, telemetry.Mark{At: 0.25, Text: "panel\noff"})
	if err != nil || added.ID != 2 || added.Text != "panel off" || added.Kind != telemetry.MarkUser {
		t.Errorf("%+v, %v", added, err)
	}
	for _, err := range []error{
		s.EditMark(ctx, id, 2, "panel on"), s.EditMark(ctx, id, 2, "panel back on"),
		s.SetSetting(ctx, id, "cooler", "fan"), s.SetSetting(ctx, id, "lid", ""), s.SetSetting(ctx, id, "paste", "new"),
		s.Rename(ctx, "stock", "first try"),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	got := load(t, s, "first try")
	if fmt.Sprint(got.Setup) != "[{cooler fan} {paste new}]" || len(got.Marks) != 2 || got.Marks[0].Text != "panel back on" || got.Marks[1].Text != "start" {
		t.Errorf("setup %v, marks %v", got.Setup, got.Marks)
	}
	history, err := s.History(ctx, id)
	var said []string
	for _, h := range history {
		said = append(said, h.What+" "+h.Item+" was "+h.Before)
	}
	if want := "mark 2 was panel off, mark 2 was panel on, setting cooler was Plate, setting lid was open"; err != nil || strings.Join(said, ", ") != want {
		t.Errorf("history: %s, %v", strings.Join(said, ", "), err)
	}
	if s.EditMark(ctx, id, 9, "") == nil || s.SetSetting(ctx, id, " ", "x") == nil {
		t.Error("a mark or key that is not there was changed")
	}
	for _, at := range []float64{-1, 1.5} {
		if _, err := s.SetMark(ctx, id, telemetry.Mark{At: at}); err == nil {
			t.Errorf("a mark at %v s of 1 s", at)
		}
	}
}

func TestNames(t *testing.T) {
	s, ctx := newStore(t), context.Background()
	if _, err := s.Load(ctx, Last); !errors.Is(err, ErrNotFound) {
		t.Errorf("last of an empty archive: %v", err)
	}
	day := time.Date(2026, 3, 1, 20, 15, 0, 0, time.UTC)
	s.now = func() time.Time { day = day.Add(time.Hour); return day }
	small(t, s, "stock")
	second := small(t, s, "")
	for text, want := range map[string]error{
		"2026": ErrAmbiguous, "no": ErrNotFound, "": ErrNotFound, second: nil, second[:12]: nil, Last: nil, "stock": nil,
	} {
		if _, err := s.Load(ctx, text); !errors.Is(err, want) || want != nil && hint(err) == "" {
			t.Errorf("%q: %v", text, err)
		}
	}
	for f, want := range map[Filter]int{
		{}: 2, {Limit: 1}: 1, {Text: "STOCK"}: 1, {Text: "cooler = pl"}: 2, {Text: "copper"}: 0, {State: StateClosed}: 2,
		{State: StateBroken}: 0, {Origin: OriginImport}: 2, {Origin: "live"}: 0, {Since: day.Add(-time.Minute)}: 1,
	} {
		if list, err := s.Sessions(ctx, f); err != nil || len(list) != want {
			t.Errorf("%+v: %d sessions, %v", f, len(list), err)
		}
	}
	if err := s.Delete(ctx, "stock"); err != nil {
		t.Fatal(err)
	}
	if e := only(t, s); e.ID != second || e.Length != time.Second || e.Marks != 1 {
		t.Errorf("%+v", e)
	}
	integrity(t, s)
}

func TestDefaultPath(t *testing.T) {
	tests := []struct{ system, env, want string }{
		{"linux", "HOME=/h", "/h/.local/share"},
		{"linux", "HOME=/h XDG_DATA_HOME=/d", "/d"},
		{"linux", "HOME=/h XDG_DATA_HOME=relative", "/h/.local/share"},
		{"freebsd", "XDG_DATA_HOME=/d", "/d"},
		{"darwin", "HOME=/h", "/h/Library/Application Support"},
		{"windows", "LocalAppData=/l USERPROFILE=/h", "/l"},
		{"linux", "", ""},
	}
	for _, tt := range tests {
		got, err := dataFolder(tt.system, func(key string) string {
			for _, kv := range strings.Fields(tt.env) {
				if v, ok := strings.CutPrefix(kv, key+"="); ok {
					return v
				}
			}
			return ""
		})
		if filepath.ToSlash(got) != tt.want || (err != nil) != (tt.want == "") {
			t.Errorf("%s %s: %q, %v", tt.system, tt.env, got, err)
		}
	}
	t.Setenv("SOAKLINE_DATA", "/elsewhere")
	if p, err := DefaultPath(); err != nil || filepath.ToSlash(p) != "/elsewhere/sessions.db" {
		t.Errorf("%q, %v", p, err)
	}
	t.Setenv("SOAKLINE_DATA", "/elsewhere/mine.db")
	if p, err := DefaultPath(); err != nil || p != "/elsewhere/mine.db" {
		t.Errorf("%q, %v", p, err)
	}
}

// TestOddFolder: a path with characters that mean something in an address.
func TestOddFolder(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "50% of a#b?c d", "sessions.db"))
	small(t, s, "x")
	if list, err := filepath.Glob(filepath.Join(filepath.Dir(s.path), "*.db")); err != nil || len(list) != 1 {
		t.Errorf("%v, %v", list, err)
	}
}

func TestNoFolder(t *testing.T) {
	s := newStore(t)
	_, err := Open(filepath.Join(s.path, "below a file", "sessions.db"), nil)
	var told *Error
	if !errors.As(err, &told) || told.Op != "open" {
		t.Errorf("error is %v", err)
	}
}
