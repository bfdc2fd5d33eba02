package parquet

import (
	"fmt"
	"io"
	"math"
	"testing"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

type counted int

func (c *counted) Write(p []byte) (int, error) { *c += counted(len(p)); return len(p), nil }

// BenchmarkHour is an hour of 20 channels at 10 Hz.
func BenchmarkHour(b *testing.B) {
	tr := &telemetry.Trace{Values: make([][]float64, 20)}
	for c := range 20 {
		tr.Channels = append(tr.Channels, telemetry.Channel{Key: fmt.Sprint(c), Name: fmt.Sprint("temperature ", c), Quantity: quantity.Temperature})
	}
	for i := range 36000 {
		tr.Time = append(tr.Time, float64(i)/10)
		for c := range 20 {
			tr.Values[c] = append(tr.Values[c], math.Round(40+20*math.Sin(float64(i)/900+float64(c))))
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		var n counted
		if err := Write(io.Writer(&n), tr); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(n)/float64(len(tr.Time)*len(tr.Channels)), "B/reading")
	}
}
