package sampler

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"soakline/collector/telemetry"
)

// blackHole is a Sink that keeps nothing.
type blackHole struct{}

func (blackHole) Publish(telemetry.Row)                {}
func (blackHole) AddChannels([]telemetry.Channel)      {}
func (blackHole) SetMissing([]telemetry.Missing)       {}
func (blackHole) SetSetting(string, string) error      { return nil }
func (blackHole) Mark(m telemetry.Mark) telemetry.Mark { return m }

// machine has 100 channels in 20 groups: fast ones, some at a pace of 1 s, and two slow ones.
func machine() *fakeSource {
	var groups []telemetry.Group
	for g := range 20 {
		group := telemetry.Group{Name: fmt.Sprint("chip", g), Reader: plain{}}
		for c := range 5 {
			group.Channels = append(group.Channels, temperature(fmt.Sprintf("chip%d/temp%d", g, c)))
		}
		if g%4 == 3 {
			group.Every = time.Second
		}
		group.Slow = g == 7 || g == 11
		groups = append(groups, group)
	}
	return sourceOf("machine", groups...)
}

// plain is a Reader that costs next to nothing.
type plain struct{}

func (plain) Read(at time.Duration, out []telemetry.Reading) { stamp(at, out) }
func (plain) Close() error                                   { return nil }

func ready(t testing.TB, source telemetry.Source) (s *Sampler, step func()) {
	s = New(Config{Clock: Simulated(0)}, []telemetry.Source{source})
	if f, err := s.Open(t.Context()); err != nil || len(f.Channels) != 100 {
		t.Fatal(f, err)
	}
	s.begin(blackHole{})
	t.Cleanup(s.shut)
	return s, func() {
		if v, err := s.step(t.Context()); v != goOn || err != nil {
			t.Fatal(v, err)
		}
	}
}

func TestTickAllocatesNothing(t *testing.T) {
	_, step := ready(t, machine())
	for range 100 {
		step()
	}
	if a := testing.AllocsPerRun(2000, step); a != 0 {
		t.Errorf("%v allocations a tick", a)
	}
}

// BenchmarkTick100 is a whole tick over 100 channels in 20 groups, without the sensors.
func BenchmarkTick100(b *testing.B) {
	_, step := ready(b, machine())
	b.ReportAllocs()
	for b.Loop() {
		step()
	}
}

// files reads one open file a channel.
type files []*os.File

func (f files) Read(_ time.Duration, out []telemetry.Reading) {
	var text [64]byte
	for i, file := range f {
		n, err := file.ReadAt(text[:], 0)
		if n == 0 || err != nil && err != io.EOF {
			out[i].State = telemetry.GapIO
			continue
		}
		out[i] = telemetry.Reading{Value: float64(text[0]), State: telemetry.Fresh}
	}
}

func (f files) Close() error { return nil }

// BenchmarkTickOverFiles100 is a tick that reads 100 open files, beside the same reads
// alone, turn by turn in one run: ratio, of the medians, says what the sampler adds.
func BenchmarkTickOverFiles100(b *testing.B) {
	dir := b.TempDir()
	var groups []telemetry.Group
	var readers []files
	for g := range 20 {
		group, reader := telemetry.Group{Name: fmt.Sprint(g)}, files{}
		for c := range 5 {
			name := filepath.Join(dir, fmt.Sprintf("temp%d_%d", g, c))
			if err := os.WriteFile(name, []byte("41000\n"), 0o600); err != nil {
				b.Fatal(err)
			}
			file, err := os.Open(name)
			if err != nil {
				b.Fatal(err)
			}
			defer file.Close()
			reader = append(reader, file)
			group.Channels = append(group.Channels, temperature(name))
		}
		group.Reader = reader
		groups, readers = append(groups, group), append(readers, reader)
	}
	_, step := ready(b, sourceOf("files", groups...))
	out := make([]telemetry.Reading, 5)
	var whole, bare []time.Duration
	for b.Loop() {
		t0 := time.Now()
		step()
		t1 := time.Now()
		for _, r := range readers {
			r.Read(0, out)
		}
		whole, bare = append(whole, t1.Sub(t0)), append(bare, time.Since(t1))
	}
	b.ReportMetric(float64(median(whole))/float64(median(bare)), "ratio")
	b.ReportMetric(float64(median(bare))/1000, "us-bare")
}

func median(d []time.Duration) time.Duration {
	slices.Sort(d)
	return d[len(d)/2]
}
