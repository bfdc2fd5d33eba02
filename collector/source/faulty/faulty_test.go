package faulty

import (
	"testing"
	"testing/synctest"
	"time"

	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

func TestContract(t *testing.T) {
	sourcetest.Check(t, func() telemetry.Source {
		return Wrap(Board("board", "a", "b"), Fault{Key: "b", From: 200 * time.Millisecond, Kind: Error, State: telemetry.GapIO})
	})
}

// Each kind does what it says, when it says so.
func TestKinds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		second := func(f Fault) Fault { f.Key, f.From, f.To = "a", time.Second, 2*time.Second; return f }
		for _, c := range []struct {
			fault Fault
			value float64
			state telemetry.State
			took  time.Duration
		}{
			{Fault{Kind: Error, State: telemetry.GapIO}, 0, telemetry.GapIO, 0},
			{Fault{Kind: Rubbish, Value: 127}, 127, telemetry.Fresh, 0},
			{Fault{Kind: Frozen}, 0.5, telemetry.Fresh, 0},
			{Fault{Kind: Hang}, 1.5, telemetry.Fresh, 500 * time.Millisecond},
			{Fault{Kind: Unplugged}, 0, telemetry.GapGone, 0},
		} {
			s := Wrap(Board("board", "a"), second(c.fault))
			out := make([]telemetry.Reading, 1)
			r := s.Open(t.Context()).Groups[0].Reader
			r.Read(500*time.Millisecond, out)
			if out[0] != (telemetry.Reading{Value: 0.5, State: telemetry.Fresh}) {
				t.Errorf("before: %+v", out[0])
			}
			began := time.Now()
			r.Read(1500*time.Millisecond, out)
			if out[0].State != c.state || c.state.Usable() && out[0].Value != c.value || time.Since(began) != c.took {
				t.Errorf("kind %d: %+v after %v", c.fault.Kind, out[0], time.Since(began))
			}
			if n := len(s.Open(t.Context()).Groups); (n == 0) != (c.fault.Kind == Unplugged) {
				t.Errorf("kind %d: %d groups", c.fault.Kind, n)
			}
			r.Read(2500*time.Millisecond, out)
			again := s.Open(t.Context()).Groups[0]
			if gone := out[0].State == telemetry.GapGone; gone != (c.fault.Kind == Unplugged) || again.Channels[0].Device != "board, number 3" || again.Channels[0].Key != "a" {
				t.Errorf("after: %+v, %+v", out[0], again.Channels)
			}
		}
	})
}
