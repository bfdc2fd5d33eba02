package kerneltest

import (
	"context"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// beside is a source in whose energy group another channel stands: what has really flowed
// at that very read, however late the host lets it come.
type beside struct {
	telemetry.Source
	really func() float64
}

const trueEnergy = "really"

// withTruth puts it into the source of power zones.
func withTruth(sources []telemetry.Source, really func() float64) []telemetry.Source {
	for i, s := range sources {
		if s.Name() == "powercap" {
			sources[i] = beside{s, really}
		}
	}
	return sources
}

func (b beside) Open(ctx context.Context) telemetry.Inventory {
	inv := b.Source.Open(ctx)
	for i := range inv.Groups {
		if g := &inv.Groups[i]; g.Name == "energy counters" {
			g.Channels = append(g.Channels, telemetry.Channel{Key: trueEnergy, Name: trueEnergy, Quantity: quantity.Energy})
			g.Reader = besideReader{g.Reader, b.really}
		}
	}
	return inv
}

type besideReader struct {
	telemetry.Reader
	really func() float64
}

func (r besideReader) Read(at time.Duration, out []telemetry.Reading) {
	n := len(out) - 1
	r.Reader.Read(at, out[:n])
	out[n] = telemetry.Reading{Value: r.really(), State: telemetry.Fresh}
}
