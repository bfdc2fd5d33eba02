// Package sourcetest owns the checks that every telemetry.Source must pass. Tests of a
// source call [Check]; the binary never imports it.
package sourcetest

import (
	"context"
	"math"
	"os"
	"runtime"
	"slices"
	"testing"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Check opens the source that make gives, reads it, opens a second one, and reports
// every breach of the contract of telemetry.Source: a result with its reason, keys
// unique and the same after a second opening, a quantity that fits the role, readings
// that are finite or NaN with a gap's state, no allocation per Read, and no descriptor
// left open after Close.
func Check(t *testing.T, make func() telemetry.Source) {
	t.Helper()
	check(t, make)
}

// report is the part of testing.T that the checks need; this package's own test hands
// in one that remembers.
type report interface {
	Helper()
	Errorf(format string, args ...any)
}

func check(t report, make func() telemetry.Source) {
	t.Helper()
	before := descriptors()
	src := make()
	inv := src.Open(context.Background())
	checkInventory(t, src.Name(), inv)
	for _, g := range inv.Groups {
		checkReadings(t, g)
		checkAllocations(t, g)
	}
	again := make().Open(context.Background())
	if first, second := Keys(inv), Keys(again); !slices.Equal(first, second) {
		t.Errorf("opened again, the keys differ:\n first %q\nsecond %q", first, second)
	}
	closeAll(t, inv)
	closeAll(t, again)
	if after := descriptors(); after > before {
		t.Errorf("%d descriptors before, %d after Close", before, after)
	}
}

// Keys lists the keys of an inventory, sorted.
func Keys(inv telemetry.Inventory) []string {
	var keys []string
	for _, g := range inv.Groups {
		for _, c := range g.Channels {
			keys = append(keys, c.Key)
		}
	}
	slices.Sort(keys)
	return keys
}

// Read reads every group once and gives the readings by key.
func Read(inv telemetry.Inventory, at time.Duration) map[string]telemetry.Reading {
	all := map[string]telemetry.Reading{}
	for _, g := range inv.Groups {
		out := make([]telemetry.Reading, len(g.Channels))
		g.Reader.Read(at, out)
		for i, c := range g.Channels {
			all[c.Key] = out[i]
		}
	}
	return all
}

// Channel finds a channel by its key, or fails the test.
func Channel(t *testing.T, inv telemetry.Inventory, key string) telemetry.Channel {
	t.Helper()
	for _, g := range inv.Groups {
		for _, c := range g.Channels {
			if c.Key == key {
				return c
			}
		}
	}
	t.Fatalf("no channel %q among %q", key, Keys(inv))
	return telemetry.Channel{}
}

// Close closes every reader of an inventory.
func Close(t *testing.T, inv telemetry.Inventory) {
	t.Helper()
	closeAll(t, inv)
}

func closeAll(t report, inv telemetry.Inventory) {
	t.Helper()
	for _, g := range inv.Groups {
		if err := g.Reader.Close(); err != nil {
			t.Errorf("group %s: Close: %v", g.Name, err)
		}
	}
}

func checkInventory(t report, source string, inv telemetry.Inventory) {
	t.Helper()
	if source == "" {
		t.Errorf("the source has no name")
	}
	if inv.Status == telemetry.Running && inv.Reason != "" {
		t.Errorf("running, yet with the reason %q", inv.Reason)
	}
	if inv.Status != telemetry.Running && (inv.Reason == "" || len(inv.Groups) > 0) {
		t.Errorf("status %s, reason %q, %d groups: a source that is not running has a reason and no groups",
			inv.Status, inv.Reason, len(inv.Groups))
	}
	for _, m := range inv.Missing {
		if m.Name == "" || m.Reason == "" || m.Source != source {
			t.Errorf("missing channel without name, reason or source: %+v", m)
		}
	}
	for _, s := range inv.Conditions {
		if s.Key == "" || s.Value == "" {
			t.Errorf("condition %+v: key or value is empty", s)
		}
	}
	keys := Keys(inv)
	for i := 1; i < len(keys); i++ {
		if keys[i] == keys[i-1] {
			t.Errorf("key %q stands twice", keys[i])
		}
	}
	for _, g := range inv.Groups {
		if g.Name == "" || len(g.Channels) == 0 || g.Reader == nil || g.Every < 0 {
			t.Errorf("group %q: %d channels, reader %v, every %v", g.Name, len(g.Channels), g.Reader != nil, g.Every)
		}
		for _, c := range g.Channels {
			checkChannel(t, source, c)
		}
	}
}

func checkChannel(t report, source string, c telemetry.Channel) {
	t.Helper()
	if c.Key == "" || c.Name == "" || c.Device == "" {
		t.Errorf("channel without key, name or device: %+v", c)
	}
	if c.Source != source {
		t.Errorf("channel %q: source %q, want %q", c.Key, c.Source, source)
	}
	if c.Refresh < 0 {
		t.Errorf("channel %q: refresh %v", c.Key, c.Refresh)
	}
	if c.Quantity == quantity.Unknown {
		t.Errorf("channel %q: its quantity is unknown", c.Key)
	}
	if (c.Quantity == quantity.Label) != (len(c.Labels) > 0) {
		t.Errorf("channel %q: %s with %d labels", c.Key, c.Quantity, len(c.Labels))
	}
	if c.Role == telemetry.RoleNone {
		return
	}
	if _, err := telemetry.Resolve([]telemetry.Channel{c}, map[telemetry.Role]string{c.Role: c.Key}); err != nil {
		t.Errorf("channel %q: %v", c.Key, err)
	}
}

// untouched marks a reading that Read forgot to fill in.
var untouched = telemetry.Reading{Value: -987654321, State: telemetry.Fresh}

func checkReadings(t report, g telemetry.Group) {
	t.Helper()
	out := make([]telemetry.Reading, len(g.Channels))
	for pass := range 3 {
		for i := range out {
			out[i] = untouched
		}
		g.Reader.Read(time.Duration(pass+1)*100*time.Millisecond, out)
		for i, r := range out {
			checkReading(t, g.Channels[i], r)
		}
	}
}

func checkReading(t report, c telemetry.Channel, r telemetry.Reading) {
	t.Helper()
	finite := !math.IsNaN(r.Value) && !math.IsInf(r.Value, 0)
	switch {
	case r == untouched:
		t.Errorf("channel %q: Read left its reading untouched", c.Key)
	case int(r.State) >= telemetry.NumStates:
		t.Errorf("channel %q: state %d is not known", c.Key, r.State)
	case r.State.Usable() && !finite:
		t.Errorf("channel %q: state %d with the value %v", c.Key, r.State, r.Value)
	case !r.State.Usable() && !math.IsNaN(r.Value):
		t.Errorf("channel %q: a gap (%s) with the value %v, want NaN", c.Key, r.State.Reason(), r.Value)
	case c.Quantity == quantity.Label && finite && (r.Value < 0 || int(r.Value) >= len(c.Labels) || r.Value != math.Trunc(r.Value)):
		t.Errorf("channel %q: label %v of %d", c.Key, r.Value, len(c.Labels))
	}
}

func checkAllocations(t report, g telemetry.Group) {
	t.Helper()
	out := make([]telemetry.Reading, len(g.Channels))
	at := time.Second
	n := testing.AllocsPerRun(20, func() {
		at += 100 * time.Millisecond
		g.Reader.Read(at, out)
	})
	if n != 0 {
		t.Errorf("group %s: %v allocations a Read, want 0", g.Name, n)
	}
}

// descriptors counts this process's open files; 0 where the system does not say.
func descriptors() int {
	if runtime.GOOS != "linux" {
		return 0
	}
	entries, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		return 0
	}
	return len(entries)
}
