package session

import (
	"testing"
	"time"

	"soakline/collector/telemetry"
)

// BenchmarkPublish100 is what a row of 100 channels costs the sampler, with five
// followers that never come to look.
func BenchmarkPublish100(b *testing.B) {
	s := New(Info{Period: 100 * time.Millisecond}, make([]telemetry.Channel, 100), nil)
	for range 5 {
		_, stop := s.Follow()
		defer stop()
	}
	row := telemetry.Row{Values: make([]float64, 100), States: make([]telemetry.State, 100)}
	for i := range row.States {
		row.States[i] = telemetry.Fresh
	}
	b.ReportAllocs()
	for b.Loop() {
		row.At += 0.1
		s.Publish(row)
	}
}

// BenchmarkTraceOfAnHour copies 36000 rows of 20 channels.
func BenchmarkTraceOfAnHour(b *testing.B) {
	s := New(Info{Period: 100 * time.Millisecond}, make([]telemetry.Channel, 20), nil)
	row := telemetry.Row{Values: make([]float64, 20), States: make([]telemetry.State, 20)}
	for range 36000 {
		row.At += 0.1
		s.Publish(row)
	}
	b.ReportAllocs()
	for b.Loop() {
		s.Trace()
	}
}
