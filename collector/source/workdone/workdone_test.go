package workdone

import (
	"math"
	"testing"
	"time"

	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

func TestRate(t *testing.T) {
	var now Work
	inv := New("vector", func() Work { return now }).Open(t.Context())
	r := inv.Groups[0].Reader
	read := func(w Work) telemetry.Reading {
		now = w
		out := make([]telemetry.Reading, 1)
		r.Read(0, out)
		return out[0]
	}
	ms := time.Millisecond
	for i, c := range []struct {
		w     Work
		value float64
		state telemetry.State
	}{
		{Work{}, math.NaN(), telemetry.GapDisabled},
		{Work{Load: 1}, math.NaN(), telemetry.GapNotReady},
		{Work{1, 200, 100 * ms}, 2000, telemetry.Fresh},
		{Work{1, 200, 100 * ms}, 2000, telemetry.Held},
		{Work{1, 1400, 400 * ms}, 4000, telemetry.Fresh},
		{Work{2, 50, 50 * ms}, math.NaN(), telemetry.GapNotReady}, // another load
		{Work{2, 100, 100 * ms}, 1000, telemetry.Fresh},
		{Work{}, math.NaN(), telemetry.GapDisabled},
		{Work{2, 200, 200 * ms}, math.NaN(), telemetry.GapNotReady},
	} {
		got := read(c.w)
		if got.State != c.state || got.Value != c.value && !(math.IsNaN(got.Value) && math.IsNaN(c.value)) {
			t.Errorf("read %d: %v, want %v %v", i, got, c.value, c.state)
		}
	}
	if role := inv.Groups[0].Channels[0].Role; role != telemetry.RoleThroughput {
		t.Errorf("role %q", role)
	}
}

func TestContract(t *testing.T) {
	n := uint64(0)
	sourcetest.Check(t, func() telemetry.Source {
		return New("vector", func() Work {
			n++
			return Work{1, 100 * n, time.Duration(n) * 100 * time.Millisecond}
		})
	})
}
