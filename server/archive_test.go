package server

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/analysis/compare"
	"soakline/collector/archive"
	"soakline/collector/source/rig"
	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
	"soakline/server/wire"
)

// shelved is a bench with an archive on the disk.
type shelved struct {
	*bench
	store *archive.Store
}

func newShelved(t *testing.T) *shelved {
	t.Helper()
	store, err := archive.Open(filepath.Join(t.TempDir(), "sessions.db"), nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() })
	return &shelved{newBench(t, Config{Archive: store}), store}
}

// ramp is a trace of n rows, ten a second, whose power counts up from 1.
func ramp(n int) *telemetry.Trace {
	t := &telemetry.Trace{Channels: channels(), Start: time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC),
		Setup: []telemetry.Setting{{Key: "paste", Value: "<b>old</b>"}}, Marks: []telemetry.Mark{{At: 1, Kind: telemetry.MarkUser, Text: "lid on"}}}
	t.Values = make([][]float64, len(t.Channels))
	for i := range n {
		t.Time = append(t.Time, float64(i)/10)
		for c := range t.Channels {
			t.Values[c] = append(t.Values[c], float64(i+1)+float64(c)/8)
		}
	}
	t.Values[1][0] = math.NaN()
	return t
}

func (b *shelved) keep(t *telemetry.Trace, name string) string {
	b.Helper()
	id, err := b.store.Import(context.Background(), t, name)
	if err != nil {
		b.Fatal(err)
	}
	return id
}

// rigTrace records the simulated machine in a setup.
func rigTrace(t testing.TB, setup string, seed uint64) *telemetry.Trace {
	t.Helper()
	cfg := rig.Default()
	cfg.Seed = seed
	src, err := rig.New(cfg)
	if err == nil {
		err = src.Select(setup)
	}
	if err != nil {
		t.Fatal(err)
	}
	tr, _ := src.Trace(100*time.Millisecond, 8*time.Minute)
	if tr.Channels, err = telemetry.Resolve(tr.Channels, nil); err != nil {
		t.Fatal(err)
	}
	return tr
}

func TestSessionsAreListed(t *testing.T) {
	b := newShelved(t)
	if w := b.do("GET", "/api/sessions", ""); w.Body.String() != `{"sessions":[],"more":false}` {
		t.Errorf("an empty archive: %s", w.Body)
	}
	id := b.keep(ramp(20), "<i>first</i>")
	b.keep(ramp(20), "second")
	w := b.do("GET", "/api/sessions?find=OLD", "")
	if strings.Contains(w.Body.String(), "<i>") || strings.Contains(w.Body.String(), "<b>") {
		t.Error("a name leaves unescaped")
	}
	if l := decode[wire.KeptList](b.bench, w); len(l.Sessions) != 2 || l.Sessions[1].ID != id || l.Sessions[1].Setup[0].Value != "<b>old</b>" ||
		l.Sessions[1].State != "closed" || l.Sessions[1].Rows != 20 || l.Sessions[1].Deleted != nil || l.Sessions[1].Start == nil {
		t.Errorf("list %+v", l)
	}
	if l := decode[wire.KeptList](b.bench, b.do("GET", "/api/sessions?find=nothing+like+it", "")); len(l.Sessions) != 0 {
		t.Errorf("found %+v", l)
	}
	b.refused(b.do("GET", "/api/sessions?deleted=yes", ""), 400, "deleted")
	b.refused(b.do("GET", "/api/sessions?find="+strings.Repeat("x", 300), ""), 400, "find")
}

// A session's life: named, pinned, deleted, brought back.
func TestSessionsAreChanged(t *testing.T) {
	b := newShelved(t)
	id := b.keep(ramp(20), "")
	at := "/api/sessions/" + id
	if k := decode[wire.Kept](b.bench, b.do("POST", at+"/name", `{"name":"plate, first mount"}`)); k.Name != "plate, first mount" {
		t.Errorf("named %+v", k)
	}
	if k := decode[wire.Kept](b.bench, b.do("POST", at+"/pin", `{"pinned":true}`)); !k.Pinned {
		t.Errorf("pinned %+v", k)
	}
	b.refused(b.do("DELETE", at, ""), http.StatusConflict, "unpin")
	decode[wire.Kept](b.bench, b.do("POST", at+"/pin", `{"pinned":false}`))
	if w := b.do("DELETE", at, ""); w.Code != 200 {
		t.Fatalf("delete: %d %s", w.Code, w.Body)
	}
	if l := decode[wire.KeptList](b.bench, b.do("GET", "/api/sessions", "")); len(l.Sessions) != 0 {
		t.Errorf("after the deletion: %+v", l)
	}
	if l := decode[wire.KeptList](b.bench, b.do("GET", "/api/sessions?deleted=1", "")); len(l.Sessions) != 1 || l.Sessions[0].Deleted == nil {
		t.Errorf("deleted are %+v", l)
	}
	b.refused(b.do("GET", at+"/layout", ""), 404, "deleted")
	b.refused(b.do("DELETE", at, ""), 404, "no such session")
	if k := decode[wire.Kept](b.bench, b.do("POST", at+"/restore", `{}`)); k.ID != id || k.Name != "plate, first mount" {
		t.Errorf("restored %+v", k)
	}
	for _, c := range [][2]string{{"/name", `{}`}, {"/pin", `{}`}, {"/pin", `{"pinned":1}`}, {"/name", `{"name":"x","id":"y"}`}, {"/restore", `{"all":true}`}} {
		b.refused(b.do("POST", at+c[0], c[1]), 400, "")
	}
	b.refused(b.do("POST", at+"/name", `{"name":"x"}`, header("Content-Type", "text/plain")), 415, "json")
}

// Addresses that name no session, whatever they try.
func TestSessionIDsAreChecked(t *testing.T) {
	b := newShelved(t)
	id := b.keep(ramp(20), "last one")
	for _, bad := range []string{"last", "1", id[:15], id + "x", strings.ToUpper(id), "..%2f..%2fetc%2fpasswd", "%2e%2e", "a%00b", "last%20one", "'%20OR%201=1", strings.Repeat("2", 4000)} {
		for _, w := range []int{b.do("GET", "/api/sessions/"+bad+"/layout", "").Code, b.do("DELETE", "/api/sessions/"+bad, "").Code} {
			if w != http.StatusBadRequest && w != http.StatusNotFound {
				t.Errorf("%.40s: status %d", bad, w)
			}
		}
		b.refused(b.do("GET", "/api/compare?side="+bad, ""), 400, "not the id")
	}
	if l := decode[wire.KeptList](b.bench, b.do("GET", "/api/sessions", "")); len(l.Sessions) != 1 {
		t.Fatal("a bad id has deleted a session")
	}
	missing := "/api/sessions/20200101-000000-aaa"
	for _, part := range []string{"/layout", "/rows", "/history?from=0&to=1", "/analysis", "/trace.csv"} {
		b.refused(b.do("GET", missing+part, ""), 404, "no such session")
	}
	b.refused(b.do("POST", missing+"/name", `{"name":"x"}`), 404, "no such session")
	b.refused(b.do("POST", missing+"/restore", `{}`), 404, "no such session")
	b.refused(b.do("GET", "/api/compare?side=20200101-000000-aaa", ""), 404, "no such session")
	at := "/api/sessions/" + id
	for path, word := range map[string]string{"/rows?max=6001": "6000", "/rows?after=-1": "after", "/history": "from", "/history?from=2&to=1": "before",
		"/history?from=0&to=1&buckets=2001": "2000"} {
		b.refused(b.do("GET", at+path, ""), 400, word)
	}
}

func TestNoArchive(t *testing.T) {
	b := newBench(t, Config{})
	for _, path := range []string{"/api/sessions", "/api/sessions/20260102-030405-aaa/layout", "/api/compare?side=20260102-030405-aaa"} {
		b.refused(b.do("GET", path, ""), 404, "--no-keep")
	}
}

// What is read back is what was recorded.
func TestKeptSessionReadsBack(t *testing.T) {
	b := newShelved(t)
	id := b.keep(ramp(1000), "ramp")
	at := "/api/sessions/" + id
	l := decode[wire.KeptLayout](b.bench, b.do("GET", at+"/layout", ""))
	if l.Kept.Name != "ramp" || l.Session.ID != id || l.LastSeq != 1000 || len(l.Channels) != 5 || math.Abs(l.Session.PeriodS-0.1) > 1e-6 ||
		len(l.Marks) != 1 || len(l.Lanes) != 3 || l.Charts["power"] == nil || l.Token != b.Token() || !l.Session.Simulated {
		t.Errorf("layout %+v", l)
	}
	rest := b.do("GET", at+"/rows?after=990&max=6000", "").Body.Bytes()
	var r telemetry.Row
	for seq := uint64(991); seq <= 1000; seq++ {
		msg, more, err := wire.NextSized(rest)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := wire.DecodeRow(msg, &r); err != nil || r.Seq != seq || r.Values[0] != float64(seq) || r.At != float64(seq-1)/10 {
			t.Fatalf("row %+v (%v), want %d", r, err, seq)
		}
		rest = more
	}
	if len(rest) != 0 {
		t.Errorf("%d bytes after the last row", len(rest))
	}
	h, err := wire.DecodeHistory(b.do("GET", at+"/history?from=0&to=200&buckets=101", "").Body.Bytes())
	if err != nil || h.FromS != 0 || h.LastSeq != 1000 || h.Buckets > 101 || h.Buckets < 50 {
		t.Fatalf("history %+v, %v", h, err)
	}
	per := int(math.Round(h.WidthS / 0.1))
	for k := range h.Buckets {
		low, high := float32(k*per+1), float32(min((k+1)*per, 1000))
		if h.Min[k] != low || h.Max[k] != high || h.Mean[k] != (low+high)/2 {
			t.Errorf("bucket %d of %g s: %v %v %v, want %v to %v", k, h.WidthS, h.Min[k], h.Mean[k], h.Max[k], low, high)
		}
	}
	tr, err := tracefile.Read(b.do("GET", at+"/trace.csv", "").Body, tracefile.Options{})
	if err != nil || len(tr.Time) != 1000 {
		t.Errorf("trace: %v", err)
	}
}

// Buckets hold each row once, whatever the span; a hole between two rows of an even
// step never shows as a gap.
func TestBucketsOfATrace(t *testing.T) {
	tr := ramp(700)
	for _, c := range []struct {
		from, to float64
		n        int
	}{{0, 70, 1}, {0, 70, 2}, {0, 69.9, 7}, {0, 1e9, 2000}, {-5, 3, 100}, {33.3, 44.4, 30}, {69.9, 69.9, 10}, {500, 600, 10}} {
		h := buckets(tr, c.from, c.to, c.n, 0.1)
		if h.Buckets < 1 || h.Buckets > c.n {
			t.Fatalf("%+v: %d buckets", c, h.Buckets)
		}
		for k := range h.Buckets {
			if math.IsNaN(float64(h.Mean[k])) || h.Min[k] > h.Mean[k] || h.Mean[k] > h.Max[k] {
				t.Errorf("%+v: bucket %d of %d: %v %v %v", c, k, h.Buckets, h.Min[k], h.Mean[k], h.Max[k])
			}
		}
	}
}

// The running session can be looked at and named, not deleted.
func TestRecordingSession(t *testing.T) {
	b := newShelved(t)
	ctx, stop := context.WithCancel(context.Background())
	rec := b.store.Record(ctx, b.session)
	defer func() { stop(); <-rec.Done() }()
	b.feed(30)
	b.until("rows are stored", func() bool { return rec.Status().Rows >= 10 })
	id := b.session.Info().ID
	l := decode[wire.KeptList](b.bench, b.do("GET", "/api/sessions", ""))
	if len(l.Sessions) != 1 || !l.Sessions[0].Shown || l.Sessions[0].State != "recording" {
		t.Fatalf("list %+v", l)
	}
	if k := decode[wire.KeptLayout](b.bench, b.do("GET", "/api/sessions/"+id+"/layout", "")); k.LastSeq < 10 {
		t.Errorf("layout %+v", k)
	}
	if k := decode[wire.Kept](b.bench, b.do("POST", "/api/sessions/"+id+"/name", `{"name":"running"}`)); k.Name != "running" {
		t.Errorf("named %+v", k)
	}
	b.refused(b.do("DELETE", "/api/sessions/"+id, ""), http.StatusConflict, "recorded now")
}

// The story of the simulated machine, as the page asks for it.
func TestCompareOnTheServer(t *testing.T) {
	b := newShelved(t)
	first, again, fan := b.keep(rigTrace(t, "plate-first", 2), ""), b.keep(rigTrace(t, "plate-again", 3), ""), b.keep(rigTrace(t, "fan-cooler", 1), "")
	c := decode[wire.Compared](b.bench, b.do("GET", fmt.Sprintf("/api/compare?side=%s&side=%s&side=%s", first, again, fan), ""))
	if len(c.Sides) != 3 || c.Sides[2].Letter != "C" || len(c.Comparisons) != 2 || c.Comparisons[1].B != "C" {
		t.Fatalf("compared %+v", c)
	}
	near := c.Comparisons[0]
	if near.Comparison.ThermalPath.Verdict != compare.Near || !strings.Contains(near.Say, "near part") || near.Comparison.Schema != compare.Schema {
		t.Errorf("plate-first against plate-again: %s, %q", near.Comparison.ThermalPath.Verdict, near.Say)
	}
	if start := float64(c.Sides[0].Runs[0].LoadS); math.Abs(start-rig.Default().Plan.RestS) > 1.5 {
		t.Errorf("load starts at %.1f s, the rig rests for %g s", start, rig.Default().Plan.RestS)
	}
	alone := decode[wire.Compared](b.bench, b.do("GET", "/api/compare?side="+fan, ""))
	if len(alone.Comparisons) != 0 || len(alone.Sides) != 1 {
		t.Errorf("one alone: %+v", alone)
	}
	for _, q := range []string{"", "?side=", "?side=" + fan + "," + fan, "?side=" + fan + "&side=" + fan, "?side=" + fan + ",", strings.Repeat("&side="+fan, 7)} {
		b.refused(b.do("GET", "/api/compare"+strings.Replace(q, "&", "?", 1), ""), 400, "")
	}
	r := decode[wire.KeptAnalysis](b.bench, b.do("GET", "/api/sessions/"+again+"/analysis", ""))
	if !r.Result.ThermalPath.RthKPerW.Known() || r.Say.Text == "" || len(r.Earlier) != 0 {
		t.Errorf("analysis %+v", r)
	}
}

// A run too short to tell the near part by itself is helped by an earlier one of the
// same machine in the same setup, by no other.
func TestEarlierSessionsHelp(t *testing.T) {
	b := newShelved(t)
	full, other := rigTrace(t, "plate-again", 3), rigTrace(t, "fan-cooler", 1)
	b.keep(other, "")
	before := b.keep(full, "")
	brief := rigTrace(t, "plate-again", 5)
	n := 200 // 12 s of rest and 8 s of load
	brief.Time = brief.Time[:n]
	for c := range brief.Values {
		brief.Values[c], brief.States[c] = brief.Values[c][:n], brief.States[c][:n]
	}
	id := b.keep(brief, "")
	r := decode[wire.KeptAnalysis](b.bench, b.do("GET", "/api/sessions/"+id+"/analysis", ""))
	if len(r.Earlier) != 1 || r.Earlier[0] != before {
		t.Errorf("helped by %v, want %s alone", r.Earlier, before)
	}
	if f := decode[wire.KeptAnalysis](b.bench, b.do("GET", "/api/sessions/"+before+"/analysis", "")); len(f.Earlier) != 0 {
		t.Errorf("a session that tells all was helped by %v", f.Earlier)
	}
}

// slow is an archive whose disk takes its time.
type slow struct {
	Archive
	wait chan struct{}
}

func (s *slow) Load(ctx context.Context, id string) (*telemetry.Trace, error) {
	select {
	case <-s.wait:
		return s.Archive.Load(ctx, id)
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// Whoever waits for another's slow session can go; the live view waits for nobody.
func TestSlowSessionHoldsUpNothing(t *testing.T) {
	b := newShelved(t)
	one, two := b.keep(ramp(50), ""), b.keep(ramp(60), "")
	disk := &slow{b.store, make(chan struct{})}
	b.shelf.archive = disk
	loading := make(chan int)
	go func() { loading <- b.do("GET", "/api/sessions/"+one+"/layout", "").Code }()
	b.until("it is loading", func() bool { return len(b.shelf.work) == 0 })
	ctx, cancel := context.WithCancel(context.Background())
	waiting := make(chan error)
	go func() { _, err := b.shelf.take(ctx, two); waiting <- err }()
	b.feed(5)
	if w := b.do("GET", "/api/layout", ""); w.Code != 200 {
		t.Errorf("the live layout: %d", w.Code)
	}
	cancel()
	if err := <-waiting; !errors.Is(err, context.Canceled) {
		t.Errorf("who went was given %v", err)
	}
	close(disk.wait)
	if code := <-loading; code != 200 {
		t.Errorf("the slow session: %d", code)
	}
}

// huge claims to be longer than the page may open.
type huge struct{ Archive }

func (h huge) Describe(ctx context.Context, id string) (archive.Description, error) {
	d, err := h.Archive.Describe(ctx, id)
	d.Rows = 1e9
	return d, err
}

func TestShelfIsBounded(t *testing.T) {
	b := newShelved(t)
	id := b.keep(ramp(50), "")
	b.shelf.archive = huge{b.store}
	b.refused(b.do("GET", "/api/sessions/"+id+"/layout", ""), http.StatusRequestEntityTooLarge, "command line")
	b.shelf.archive = b.store
	for range 4 {
		b.do("GET", "/api/sessions/"+b.keep(ramp(500), "")+"/layout", "")
	}
	if b.shelf.sum() != 4*500*5 {
		t.Errorf("%d values are held, want those of four sessions", b.shelf.sum())
	}
	b.shelf.makeRoom(mostHeld - 500*5)
	if len(b.shelf.open) != 1 {
		t.Errorf("%d sessions are held where there is room for one", len(b.shelf.open))
	}
	b.shelf.clear()
	if b.shelf.sum() != 0 || b.shelf.lent != 0 {
		t.Errorf("%d values and %d bytes are held after a while", b.shelf.sum(), b.shelf.lent)
	}
}

// A corrected setup shows at once although the rows are held.
func TestCorrectionsShowAtOnce(t *testing.T) {
	b := newShelved(t)
	id := b.keep(ramp(50), "")
	at := "/api/sessions/" + id + "/layout"
	decode[wire.KeptLayout](b.bench, b.do("GET", at, ""))
	if err := b.store.SetSetting(context.Background(), id, "paste", "new"); err != nil {
		t.Fatal(err)
	}
	if l := decode[wire.KeptLayout](b.bench, b.do("GET", at, "")); l.Setup[0].Value != "new" {
		t.Errorf("setup %+v", l.Setup)
	}
	if csv := b.do("GET", "/api/sessions/"+id+"/trace.csv", "").Body.String(); !strings.Contains(csv, "paste = new") {
		t.Errorf("the trace begins %.200q", csv)
	}
}

// grown tells of more rows than were there when it was read first, and counts the reads.
type grown struct {
	Archive
	rows  int64
	loads int
}

func (g *grown) Describe(ctx context.Context, id string) (archive.Description, error) {
	d, err := g.Archive.Describe(ctx, id)
	d.Rows += g.rows
	return d, err
}

func (g *grown) Load(ctx context.Context, id string) (*telemetry.Trace, error) {
	g.loads++
	return g.Archive.Load(ctx, id)
}

// What is held is read once, and again where there are more rows.
func TestShelfReadsAgainWhatHasGrown(t *testing.T) {
	b := newShelved(t)
	at := "/api/sessions/" + b.keep(ramp(50), "") + "/layout"
	disk := &grown{Archive: b.store}
	b.shelf.archive = disk
	b.do("GET", at, "")
	b.do("GET", at, "")
	if disk.loads != 1 {
		t.Errorf("read %d times, want once", disk.loads)
	}
	disk.rows = 1
	b.do("GET", at, "")
	if disk.loads != 2 {
		t.Errorf("read %d times after it has grown, want 2", disk.loads)
	}
}
