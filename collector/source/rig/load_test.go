package rig

import (
	"math"
	"testing"
	"time"

	"soakline/collector/telemetry"
)

// A machine without a plan of its own works when it is asked to, for the share of the
// time that it is asked for: the mean of its busy share says so.
func TestSetLoad(t *testing.T) {
	cfg := Default()
	cfg.Plan = Plan{}
	s, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	r := s.Open(t.Context()).Groups[0].Reader
	out := make([]telemetry.Reading, numChannels)
	at := time.Duration(0)
	busy := func(share float64) float64 {
		s.SetLoad(share)
		sum := 0.0
		for range 100 {
			at += 100 * time.Millisecond
			r.Read(at, out)
			sum += out[chLoad].Value
		}
		return sum / 100
	}
	for _, share := range []float64{0, 1, 0.3, 0.75, 0} {
		want := 99.3*share + 1.6*(1-share)
		if got := busy(share); math.Abs(got-want) > 1.5 {
			t.Errorf("asked for %g: busy for %.1f %%, want %.1f %%", share, got, want)
		}
	}
}
