package replay

import (
	"context"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/collector/quantity"
	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

var nan = math.NaN()

// recording has four rows, 0.1 s apart and not beginning at 0, with gaps, a value held
// by the file's word, and a label.
func recording() *telemetry.Trace {
	return &telemetry.Trace{
		Time: []float64{5.0, 5.1, 5.2, 5.3},
		Channels: []telemetry.Channel{
			{Key: "p", Name: "package power", Quantity: quantity.Power, Role: telemetry.RolePower},
			{Key: "t", Name: "die temperature", Quantity: quantity.Temperature, Role: telemetry.RoleDie},
			{Name: "mode", Quantity: quantity.Label, Labels: []string{"quiet", "fast"}},
		},
		Values: [][]float64{{5, 64, 64, 28}, {40, nan, 51, 51}, {0, 0, 1, 1}},
		States: [][]telemetry.State{nil, {telemetry.Fresh, telemetry.GapTimeout, telemetry.Fresh, telemetry.Held}, nil},
		Setup:  []telemetry.Setting{{Key: "cooler", Value: "fan"}},
	}
}

func TestIsASource(t *testing.T) {
	sourcetest.Check(t, func() telemetry.Source { return New(recording()) })
	sourcetest.Check(t, func() telemetry.Source { return New(&telemetry.Trace{}) })
}

// Rows come at their own times, twice as often as asked for: fresh once, then held.
func TestRowsAtTheirTimes(t *testing.T) {
	s := New(recording())
	read := s.Open(context.Background()).Groups[0].Reader
	out := make([]telemetry.Reading, 3)
	start := 1000 * time.Second
	f, h := telemetry.Fresh, telemetry.Held
	for _, want := range []struct {
		ms           time.Duration
		power, die   float64
		powerS, dieS telemetry.State
	}{
		{0, 5, 40, f, f}, {40, 5, 40, h, h},
		{100, 64, nan, f, telemetry.GapTimeout}, {140, 64, nan, h, telemetry.GapTimeout},
		{200, 64, 51, f, f}, {240, 64, 51, h, h},
		{300, 28, 51, f, h}, {340, 28, 51, h, h},
	} {
		read.Read(start+want.ms*time.Millisecond, out)
		got := [2]telemetry.Reading{out[0], out[1]}
		if got[0] != (telemetry.Reading{Value: want.power, State: want.powerS}) {
			t.Errorf("%d ms: power %+v, want %v in state %d", want.ms, got[0], want.power, want.powerS)
		}
		if got[1].State != want.dieS || got[1].Value != want.die && !(math.IsNaN(want.die) && math.IsNaN(got[1].Value)) {
			t.Errorf("%d ms: die %+v, want %v in state %d", want.ms, got[1], want.die, want.dieS)
		}
	}
}

// A tick that passes rows over gives the newest, fresh where it was renewed on the way.
func TestRowsPassedOver(t *testing.T) {
	read := New(recording()).Open(context.Background()).Groups[0].Reader
	out := make([]telemetry.Reading, 3)
	read.Read(0, out)
	read.Read(300*time.Millisecond, out)
	if want := (telemetry.Reading{Value: 51, State: telemetry.Fresh}); out[1] != want {
		t.Errorf("die, held in the last row but measured in one passed over: %+v", out[1])
	}
}

// A reader whose ticks come as far apart as the rows, each early or late by up to 45 % of
// that, sees every row exactly once.
func TestJitterLosesNoRow(t *testing.T) {
	tr := recording()
	tr.Time, tr.Values, tr.States = nil, make([][]float64, 3), make([][]telemetry.State, 3)
	for i := range 200 {
		tr.Time = append(tr.Time, float64(i)*0.1)
		for c := range tr.Values {
			tr.Values[c] = append(tr.Values[c], float64(i))
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		read := New(tr).Open(context.Background()).Groups[0].Reader
		out := make([]telemetry.Reading, 3)
		jitter := rapid.IntRange(-45, 45)
		for i := range tr.Time {
			at := time.Duration(i) * 100 * time.Millisecond
			if i > 0 {
				at += time.Duration(jitter.Draw(t, "ms")) * time.Millisecond
			}
			read.Read(at, out)
			if want := (telemetry.Reading{Value: float64(i), State: telemetry.Fresh}); out[0] != want {
				t.Fatalf("tick %d: %+v", i, out[0])
			}
		}
	})
}

// In a hole of the recording, and after its end, there is no value.
func TestHoleIsAGap(t *testing.T) {
	tr := recording()
	tr.Time = []float64{0, 0.1, 0.2, 60}
	s := New(tr)
	read := s.Open(context.Background()).Groups[0].Reader
	out := make([]telemetry.Reading, 3)
	for _, want := range []struct {
		at    time.Duration
		state telemetry.State
	}{
		{0, telemetry.Fresh}, {200 * time.Millisecond, telemetry.Fresh}, {time.Second, telemetry.Held},
		{30 * time.Second, telemetry.GapStale}, {60 * time.Second, telemetry.Fresh}, {70 * time.Second, telemetry.GapStale},
	} {
		if read.Read(want.at, out); out[0].State != want.state || want.state.Usable() == math.IsNaN(out[0].Value) {
			t.Errorf("%v: %+v, want state %d", want.at, out[0], want.state)
		}
	}
}

func TestLengthAndEnd(t *testing.T) {
	s := New(recording())
	if s.Length().Round(time.Microsecond) != 300*time.Millisecond || math.Abs(s.StepS()-0.1) > 1e-6 {
		t.Errorf("length %v, step %g s", s.Length(), s.StepS())
	}
	if s.Done(time.Hour) || s.Ended() {
		t.Error("over before it began")
	}
	read := s.Open(context.Background()).Groups[0].Reader
	out := make([]telemetry.Reading, 3)
	read.Read(10*time.Second, out)
	if s.Done(10350*time.Millisecond) || s.Ended() || !s.Done(10401*time.Millisecond) {
		t.Error("over at the wrong time")
	}
	read.Read(15*time.Second, out)
	if s.Ended() || out[0].Value != 28 || out[0].State != telemetry.Fresh {
		t.Errorf("a late first sight of the last row: %+v, over %v", out[0], s.Ended())
	}
	if read.Read(15100*time.Millisecond, out); !s.Ended() {
		t.Error("not over after another reading")
	}
}

// What the recording says of its channels stands; that it was simulated is kept.
func TestChannelsKeepTheirWords(t *testing.T) {
	tr := recording()
	tr.Simulated = true
	inv := New(tr).Open(context.Background())
	for i, c := range inv.Groups[0].Channels {
		if was := tr.Channels[i]; c.Name != was.Name || c.Role != was.Role || c.Quantity != was.Quantity || !c.Simulated || len(c.Labels) != len(was.Labels) {
			t.Errorf("%+v became %+v", was, c)
		}
	}
	if len(inv.Conditions) != 1 || inv.Conditions[0] != tr.Setup[0] {
		t.Errorf("conditions %v", inv.Conditions)
	}
	if tr.Channels[0].Source != "" || tr.Channels[2].Key != "" {
		t.Error("the trace itself was changed")
	}
}
