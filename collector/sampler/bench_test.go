package sampler

import (
	"fmt"
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

func ready(t testing.TB) (s *Sampler, step func()) {
	s = New(Config{Clock: Simulated(0)}, []telemetry.Source{machine()})
	if f, err := s.Open(t.Context()); err != nil || len(f.Channels) != 100 {
		t.Fatal(f, err)
	}
	s.begin(blackHole{})
	t.Cleanup(s.shut)
	return s, func() {
		if over, err := s.step(t.Context()); over || err != nil {
			t.Fatal(over, err)
		}
	}
}

func TestTickAllocatesNothing(t *testing.T) {
	_, step := ready(t)
	for range 100 {
		step()
	}
	if a := testing.AllocsPerRun(2000, step); a != 0 {
		t.Errorf("%v allocations a tick", a)
	}
}

// BenchmarkTick100 is a whole tick over 100 channels in 20 groups, without the sensors.
func BenchmarkTick100(b *testing.B) {
	_, step := ready(b)
	b.ReportAllocs()
	for b.Loop() {
		step()
	}
}
