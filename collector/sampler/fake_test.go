package sampler

import (
	"context"
	"math"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// fakeSource gives the inventories of its script in turn, the last one again and again.
type fakeSource struct {
	name   string
	script []func() telemetry.Inventory
	mu     sync.Mutex
	opens  int
}

func (f *fakeSource) Name() string { return f.name }

func (f *fakeSource) Open(context.Context) telemetry.Inventory {
	f.mu.Lock()
	n := f.opens
	f.opens++
	f.mu.Unlock()
	return f.script[min(n, len(f.script)-1)]()
}

// fakeReader reads by a function and counts what happens to it.
type fakeReader struct {
	read    func(at time.Duration, out []telemetry.Reading)
	mu      sync.Mutex
	reads   int
	closed  int
	resumed int
}

func (f *fakeReader) Read(at time.Duration, out []telemetry.Reading) {
	f.mu.Lock()
	f.reads++
	f.mu.Unlock()
	f.read(at, out)
}

func (f *fakeReader) Close() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.closed++
	return nil
}

func (f *fakeReader) count() (reads, closed int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.reads, f.closed
}

// resumer is a fakeReader that wants to know of a sleep.
type resumer struct{ fakeReader }

func (r *resumer) Resumed() { r.resumed++ }

// stamp gives the time of the read as its value, in every channel.
func stamp(at time.Duration, out []telemetry.Reading) {
	for i := range out {
		out[i] = telemetry.Reading{Value: at.Seconds(), State: telemetry.Fresh}
	}
}

func group1(key string, r telemetry.Reader) telemetry.Group {
	return telemetry.Group{Name: key, Channels: []telemetry.Channel{temperature(key)}, Reader: r}
}

func temperature(key string) telemetry.Channel {
	return telemetry.Channel{Key: key, Name: key, Quantity: quantity.Temperature}
}

// sourceOf is a source with these groups whenever it is opened.
func sourceOf(name string, groups ...telemetry.Group) *fakeSource {
	return &fakeSource{name: name, script: []func() telemetry.Inventory{
		func() telemetry.Inventory { return telemetry.Inventory{Groups: groups} }}}
}

// recorder is a Sink that keeps everything, and stops the sampler after so many rows.
type recorder struct {
	stop     func()
	limit    int
	rows     []telemetry.Row
	added    []telemetry.Channel
	missing  []telemetry.Missing
	settings []telemetry.Setting
	marks    []telemetry.Mark
	on       func(n int) // after row n
}

func (r *recorder) Publish(row telemetry.Row) {
	row.Values, row.States = slices.Clone(row.Values), slices.Clone(row.States)
	r.rows = append(r.rows, row)
	if r.on != nil {
		r.on(len(r.rows))
	}
	if len(r.rows) == r.limit {
		r.stop()
	}
}

func (r *recorder) AddChannels(chs []telemetry.Channel)  { r.added = append(r.added, chs...) }
func (r *recorder) SetMissing(m []telemetry.Missing)     { r.missing = m }
func (r *recorder) Mark(m telemetry.Mark) telemetry.Mark { r.marks = append(r.marks, m); return m }
func (r *recorder) SetSetting(key, value string) error {
	r.settings = append(r.settings, telemetry.Setting{Key: key, Value: value})
	return nil
}

// states are those of channel c over all rows.
func (r *recorder) states(c int) (list []telemetry.State) {
	for _, row := range r.rows {
		if c < len(row.States) {
			list = append(list, row.States[c])
		}
	}
	return list
}

// sample opens and runs a sampler for so many rows inside a bubble of synthetic time.
// release lets hanging readers go at the end.
func sample(t *testing.T, rows int, cfg Config, release chan struct{}, sources ...telemetry.Source) (*Sampler, *recorder) {
	t.Helper()
	s := New(cfg, sources)
	ctx, cancel := context.WithCancel(t.Context())
	rec := &recorder{stop: cancel, limit: rows}
	if _, err := s.Open(ctx); err != nil {
		t.Fatal(err)
	}
	err := s.Run(ctx, rec)
	if release != nil {
		close(release)
	}
	synctest.Wait()
	if err != context.Canceled || len(rec.rows) != rows {
		t.Fatalf("%d rows, then %v", len(rec.rows), err)
	}
	return s, rec
}

// punctual checks that channel c was measured anew in every row, less than a period after
// the row's deadline.
func punctual(t *testing.T, rec *recorder, c int) {
	t.Helper()
	for i, row := range rec.rows {
		late := time.Duration((row.Values[c]-row.At)*float64(time.Second)) + row.Lateness
		if row.States[c] != telemetry.Fresh || late < 0 || late > 100*time.Millisecond {
			t.Errorf("row %d at %v: channel %d is %v, measured %v after its deadline", i+1, row.At, c, row.States[c], late)
			return
		}
		if want := float64(i) / 10; math.Abs(row.At-want) > 0.1 {
			t.Errorf("row %d is at %v, want about %v", i+1, row.At, want)
			return
		}
	}
}

func count(states []telemetry.State, s telemetry.State) (n int) {
	for _, x := range states {
		if x == s {
			n++
		}
	}
	return n
}
