package session

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"soakline/collector/quantity"
	"soakline/collector/ring"
	"soakline/collector/sampler"
	"soakline/collector/telemetry"
)

var _ sampler.Sink = (*Session)(nil)

var start = time.Date(2026, 11, 25, 7, 42, 9, 0, time.UTC)

func channels(keys ...string) (chs []telemetry.Channel) {
	for _, k := range keys {
		chs = append(chs, telemetry.Channel{Key: k, Name: k, Quantity: quantity.Temperature})
	}
	return chs
}

func begin(keys ...string) *Session {
	return New(Info{ID: "x", Start: start, Period: 100 * time.Millisecond}, channels(keys...), nil)
}

// publish gives a row at time at with the same value everywhere.
func publish(s *Session, at, v float64) {
	n := s.Ring().Channels()
	row := telemetry.Row{At: at, Values: make([]float64, n), States: make([]telemetry.State, n)}
	for i := range n {
		row.Values[i], row.States[i] = v, telemetry.Fresh
	}
	s.Publish(row)
}

func TestMarks(t *testing.T) {
	s := begin("a")
	publish(s, 0, 1)
	publish(s, 62.5, 1)
	for i, c := range []struct{ at, want float64 }{{10, 10}, {-1, 62.5}, {math.NaN(), 62.5}, {100, 62.5}, {math.Inf(1), 62.5}, {0, 0}} {
		m := s.Mark(telemetry.Mark{At: c.at, Text: "panel\nback on "})
		if m.ID != int64(i+1) || m.At != c.want || m.Text != "panel back on" || m.Kind != telemetry.MarkUser {
			t.Errorf("mark at %v became %+v", c.at, m)
		}
	}
	if err := s.EditMark(3, "fan off"); err != nil {
		t.Error(err)
	}
	if err := s.EditMark(7, "x"); err == nil {
		t.Error("a mark that is not there was changed")
	}
	if m := s.Marks(); len(m) != 6 || m[2].Text != "fan off" || m[3].Text != "panel back on" {
		t.Errorf("%+v", m)
	}
	if e := s.Edits(); len(e) != 1 || e[0] != (Edit{3, 62.5, "panel back on"}) {
		t.Errorf("%+v", e)
	}
}

func TestSetup(t *testing.T) {
	s := New(Info{}, nil, []telemetry.Setting{{Key: "cooler", Value: "fan"}, {Key: "paste", Value: "factory"}})
	before := s.Changes()
	for _, kv := range [][2]string{{"paste", "factory"}, {"lid", ""}} {
		if err := s.SetSetting(kv[0], kv[1]); err != nil || s.Changes() != before {
			t.Errorf("%v changed something: %v", kv, err)
		}
	}
	s.SetSetting(" cooler ", "plate\x00\u202e")
	s.SetSetting("paste", "")
	s.SetSetting("room", "22 °C")
	want := []telemetry.Setting{{Key: "cooler", Value: "plate"}, {Key: "room", Value: "22 °C"}}
	if got := s.Setup(); len(got) != 2 || got[0] != want[0] || got[1] != want[1] || s.Changes() != before+3 {
		t.Errorf("%v after %d changes", got, s.Changes()-before)
	}
	if s.SetSetting("\x1b", "x") == nil {
		t.Error("an empty key was taken")
	}
	for i := range 300 {
		err := s.SetSetting(strings.Repeat("k", i%60)+"!", "x")
		if err != nil {
			t.Fatal(err)
		}
	}
	var err error
	for i := 0; i < 300 && err == nil; i++ {
		err = s.SetSetting(string(rune('一'+i)), "x")
	}
	if err == nil || len(s.Setup()) != maxSettings {
		t.Errorf("%d settings, %v", len(s.Setup()), err)
	}
}

// TestClean: whatever comes in, what is stored is short, valid, one line and stays as it
// is when cleaned again.
func TestClean(t *testing.T) {
	for in, want := range map[string]string{
		"plain": "plain", " a\tb\r\nc ": "a b  c", "\x1b[31mred\x7f": "[31mred", "a\xffb": "a\uFFFDb", "°C µ 日本": "°C µ 日本",
		"left\u202eright\u200b": "leftright", "12345678901": "1234567890", "123456789 1": "123456789",
	} {
		if got := Clean(in, 10); got != want {
			t.Errorf("Clean(%q) = %q, want %q", in, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		in := string(rapid.SliceOf(rapid.Byte()).Draw(t, "bytes")) + rapid.String().Draw(t, "text")
		limit := rapid.IntRange(0, 20).Draw(t, "limit")
		out := Clean(in, limit)
		if !utf8.ValidString(out) || utf8.RuneCountInString(out) > limit || Clean(out, limit) != out || strings.ContainsAny(out, "\x00\n\r\x1b\u2028") {
			t.Fatalf("Clean(%q, %d) = %q", in, limit, out)
		}
	})
}

func TestNewID(t *testing.T) {
	for _, c := range []struct {
		random string
		want   string
	}{{"\x0a\x00\x1f", "20261125-074209-ka9"}, {"\xff\x20\x40", "20261125-074209-9aa"}} {
		if id := NewID(start.In(time.FixedZone("", 3600)), strings.NewReader(c.random)); id != c.want {
			t.Errorf("%q, want %q", id, c.want)
		}
	}
	if id := NewID(start, iotest.ErrReader(errors.New("no entropy"))); id != "20261125-074209-aaa" {
		t.Error(id)
	}
	if len(idLetters) != 32 || bytes.ContainsAny([]byte(idLetters), "lo01") {
		t.Error(idLetters)
	}
}

// TestFollow: wake-ups are one value, however much came, and none come when nothing did.
func TestFollow(t *testing.T) {
	s := begin("a")
	wake, stop := s.Follow()
	awake := func() bool {
		select {
		case <-wake:
			return true
		default:
			return false
		}
	}
	if !awake() || awake() {
		t.Error("one wake-up is there at first, and one only")
	}
	for _, c := range []struct {
		name string
		do   func()
	}{
		{"rows", func() { publish(s, 1, 1); publish(s, 2, 1) }},
		{"mark", func() { s.Mark(telemetry.Mark{Text: "x"}) }},
		{"edit", func() { s.EditMark(1, "y") }},
		{"setting", func() { s.SetSetting("a", "b"); s.SetSetting("c", "d") }},
		{"channels", func() { s.AddChannels(channels("b")) }},
		{"missing", func() { s.SetMissing(nil) }},
		{"end", func() { s.End("x") }},
	} {
		c.do()
		if !awake() || awake() {
			t.Errorf("%s: want one wake-up", c.name)
		}
	}
	stop()
	s.Mark(telemetry.Mark{})
	if awake() {
		t.Error("a wake-up after stop")
	}
}

func TestEnd(t *testing.T) {
	s := begin("a")
	publish(s, 0, 1)
	if why, over := s.Ended(); over || why != "" {
		t.Error("over before the end")
	}
	s.End("replay finished")
	s.End("too late")
	publish(s, 1, 1)
	if why, over := s.Ended(); !over || why != "replay finished" || s.Ring().Last() != 1 {
		t.Errorf("%q, %v, %d rows", why, over, s.Ring().Last())
	}
}

// TestTrace: channels that came later have no data before; when the ring has lost the
// beginning, the trace begins at 0 all the same, and start and marks move along.
func TestTrace(t *testing.T) {
	s := NewSized(Info{Start: start, Period: time.Second}, ring.Config{RawSpan: 30 * time.Second,
		Tiers: []ring.Tier{{Width: time.Second, Span: time.Minute}}}, channels("a"), []telemetry.Setting{{Key: "lid", Value: "open"}})
	if tr := s.Trace(); len(tr.Time) != 0 || len(tr.Channels) != 1 || len(tr.Setup) != 1 {
		t.Errorf("%+v", tr)
	}
	for n := range 20 {
		publish(s, float64(n), float64(n))
	}
	s.Mark(telemetry.Mark{At: 3, Text: "early"})
	s.AddChannels([]telemetry.Channel{{Key: "b", Simulated: true}})
	publish(s, 20, 20)
	tr := s.Trace()
	if len(tr.Time) != 21 || tr.Time[0] != 0 || tr.Start != start || len(tr.Marks) != 1 || tr.States[1][19] != telemetry.NoData ||
		!math.IsNaN(tr.Values[1][19]) || tr.Values[1][20] != 20 || tr.Values[0][7] != 7 {
		t.Errorf("%+v", tr)
	}
	for n := 21; n < 200; n++ {
		publish(s, float64(n), float64(n))
	}
	s.Mark(telemetry.Mark{At: 190, Text: "late"})
	tr = s.Trace()
	first := s.Ring().First() - 1
	if tr.Time[0] != 0 || tr.Start != start.Add(time.Duration(first)*time.Second) || len(tr.Time) != int(200-first) ||
		len(tr.Marks) != 1 || tr.Marks[0].At != 190-float64(first) || tr.Values[0][0] != float64(first) || len(s.Marks()) != 2 {
		t.Errorf("from row %d: %v .. start %v marks %+v", first, tr.Time[0], tr.Start, tr.Marks)
	}
}

// TestAllAtOnce has everybody at it, for the race detector; the list of channels must
// never be shorter than a row.
func TestAllAtOnce(t *testing.T) {
	s := begin("a")
	var wg sync.WaitGroup
	stop := make(chan struct{})
	loop := func(do func()) {
		wg.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
					do()
				}
			}
		})
	}
	wake, unfollow := s.Follow()
	loop(func() {
		select {
		case <-wake:
		case <-stop:
			return
		}
		var b ring.Block
		s.Ring().Rows(0, 10, &b)
		if chs, version := s.Channels(); len(chs) < b.Channels || version != len(chs) {
			t.Errorf("%d channels, version %d, a row has %d", len(chs), version, b.Channels)
		}
	})
	loop(func() { s.Mark(telemetry.Mark{Text: "x"}); s.EditMark(1, "y"); s.Marks(); s.Edits() })
	loop(func() { s.SetSetting("a", "b"); s.SetSetting("a", ""); s.Setup(); s.Trace(); s.Changes() })
	loop(func() { _, stop := s.Follow(); stop() })
	for n := range 500 {
		if n%100 == 99 {
			s.AddChannels(channels("more"))
		}
		publish(s, float64(n), 1)
	}
	s.End("done")
	close(stop)
	wg.Wait()
	unfollow()
}

func TestPublishAllocatesNothing(t *testing.T) {
	s := NewSized(Info{Period: time.Second}, ring.Config{RawSpan: time.Minute,
		Tiers: []ring.Tier{{Width: time.Second, Span: time.Minute}}}, channels("a", "b"), nil)
	_, stop := s.Follow()
	defer stop()
	row := telemetry.Row{Values: []float64{1, 2}, States: []telemetry.State{1, 1}}
	next := func() { row.At++; s.Publish(row) }
	for range 1000 {
		next()
	}
	if a := testing.AllocsPerRun(1000, next); a != 0 {
		t.Errorf("%v allocations a row", a)
	}
}
