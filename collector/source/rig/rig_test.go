package rig

import (
	"context"
	"testing"
	"time"

	"soakline/collector/telemetry"
)

func start(t testing.TB, setup string, change func(*Config)) *Source {
	t.Helper()
	c := Default()
	c.Selected = setup
	if change != nil {
		change(&c)
	}
	s, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// states runs the machine for seconds and gives its true state each 0.1 s.
func states(s *Source, seconds int) []State {
	out := make([]State, 10*seconds)
	for i := range out {
		s.mu.Lock()
		s.advance(time.Duration(i) * 100 * time.Millisecond)
		s.mu.Unlock()
		out[i], _ = s.State()
	}
	return out
}

// Two readers at different paces see the same machine: what they read at the same
// instant is the same, and so is the energy counted.
func TestPaceOfReadingChangesNothing(t *testing.T) {
	slow := start(t, "plate-first", nil).Open(context.Background()).Groups[0].Reader
	fast := start(t, "plate-first", nil).Open(context.Background()).Groups[0].Reader
	a, b := make([]telemetry.Reading, numChannels), make([]telemetry.Reading, numChannels)
	for i := range 300 {
		at := time.Duration(i) * 100 * time.Millisecond
		fast.Read(at, b)
		if i%10 == 0 {
			slow.Read(at, a)
			for _, c := range []int{chEnergy, chDie, chBoard, chAmbient, firstCore, firstCore + 3} {
				if a[c].Value != b[c].Value {
					t.Fatalf("%.1f s, %s: %v at 1 Hz, %v at 10 Hz", at.Seconds(), channels()[c].Name, a[c].Value, b[c].Value)
				}
			}
		}
	}
}
