package feed

import (
	"math"

	"soakline/collector/telemetry"
)

// Report is what arrived so far.
type Report struct {
	Title    string // of the way: "serial port /dev/ttyUSB0"
	Trouble  string // why there is no contact, "" where there is
	Hello    Hello
	Lines    uint64
	OffsetS  float64 // our clock since the feed began minus the sender's, s; NaN where it gives no times
	Channels []ChannelReport
	Refusals []Refusal
}

// ChannelReport is what arrived of one channel.
type ChannelReport struct {
	telemetry.Channel
	Symbol   string  // the unit as the lines have it
	Value    float64 // the last one, canonical; NaN in a gap
	State    telemetry.State
	Readings uint64
	RateHz   float64 // NaN before the second reading
	DelayS   float64 // the longest beyond the shortest, s
	// Lost were missed by their numbers, Late came out of order, Repeated were the same
	// once more.
	Lost, Late, Repeated uint64
}

// Report says what arrived so far. Any goroutine may ask.
func (s *Source) Report() Report {
	s.mu.Lock()
	defer s.mu.Unlock()
	r := Report{Title: s.way.title, Trouble: s.trouble, Hello: s.hello, Lines: s.lines, OffsetS: s.offset.value(),
		Refusals: append([]Refusal{}, s.refusals...)}
	for _, c := range s.channels {
		cr := ChannelReport{Channel: c.Channel, Symbol: c.symbol, Value: c.value, State: c.state, Readings: c.readings,
			RateHz: math.NaN(), DelayS: c.longest, Lost: c.lost, Late: c.late, Repeated: c.repeated}
		if span := c.last.Sub(c.first).Seconds(); c.readings > 1 && span > 0 {
			cr.RateHz = float64(c.readings-1) / span
		}
		r.Channels = append(r.Channels, cr)
	}
	return r
}
