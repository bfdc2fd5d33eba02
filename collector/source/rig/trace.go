package rig

import (
	"context"
	"time"

	"soakline/collector/telemetry"
)

// Trace reads a machine that was just made, every period up to length, and gives the
// recording together with the true state at each row, so that an answer worked out from
// the one can be held against the other. Nobody else may read the source.
func (s *Source) Trace(period, length time.Duration) (*telemetry.Trace, []State) {
	inv := s.Open(context.Background())
	group := inv.Groups[0]
	tr := &telemetry.Trace{Channels: group.Channels, Simulated: true, Setup: inv.Conditions,
		Values: make([][]float64, len(group.Channels)), States: make([][]telemetry.State, len(group.Channels))}
	var truth []State
	out := make([]telemetry.Reading, len(group.Channels))
	for at := time.Duration(0); at <= length; at += period {
		group.Reader.Read(at, out)
		tr.Time = append(tr.Time, at.Seconds())
		for c, r := range out {
			tr.Values[c] = append(tr.Values[c], r.Value)
			tr.States[c] = append(tr.States[c], r.State)
		}
		st, _ := s.State()
		truth = append(truth, st)
	}
	return tr, truth
}
