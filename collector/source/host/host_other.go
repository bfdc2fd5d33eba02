//go:build !linux

package host

import (
	"context"
	"runtime"
	"time"

	"github.com/shirou/gopsutil/v3/cpu"
	"github.com/shirou/gopsutil/v3/host"
	"github.com/shirou/gopsutil/v3/mem"

	"soakline/collector/telemetry"
)

// Paces on systems where each reading is a call into the system's management layer. The
// firmware zones of Windows cost a WMI query of up to 3 s.
const (
	every            = time.Second
	temperatureEvery = 5 * time.Second
)

func (s *Source) open(ctx context.Context) telemetry.Inventory {
	inv := telemetry.Inventory{Groups: []telemetry.Group{
		{Name: "load", Every: every, Slow: true, Channels: []telemetry.Channel{loadChannel()}, Reader: &loadReader{}},
		{Name: "memory", Every: every, Slow: true, Channels: []telemetry.Channel{memoryChannel()}, Reader: memoryReader{}},
	}}
	openTemperatures(ctx, &inv)
	inv.Missing = append(inv.Missing, withoutDriver()...)
	return inv
}

// openTemperatures takes the temperatures that the system's interface offers.
func openTemperatures(ctx context.Context, inv *telemetry.Inventory) {
	zones, err := askZones(ctx)
	if len(zones) == 0 {
		inv.Missing = append(inv.Missing, noZones(runtime.GOOS, err))
		return
	}
	r := &temperatureReader{index: map[string]int{}}
	g := telemetry.Group{Name: "temperatures", Every: temperatureEvery, Slow: true, Reader: r}
	for i, z := range zones {
		r.index[z.key] = i
		g.Channels = append(g.Channels, zoneChannel(runtime.GOOS, z))
	}
	inv.Groups = append(inv.Groups, g)
}

// askZones asks the general library. The error may be a list of warnings beside good data.
func askZones(ctx context.Context) ([]zone, error) {
	stats, err := host.SensorsTemperaturesWithContext(ctx)
	zones := make([]zone, len(stats))
	for i, st := range stats {
		zones[i] = zone{st.SensorKey, st.Temperature}
	}
	return unique(zones), err
}

type temperatureReader struct{ index map[string]int }

// Read implements telemetry.Reader. The system's interface allocates.
func (r *temperatureReader) Read(_ time.Duration, out []telemetry.Reading) {
	for i := range out {
		out[i] = gap(telemetry.GapGone)
	}
	zones, _ := askZones(context.Background())
	for _, z := range zones {
		if i, ok := r.index[z.key]; ok {
			out[i] = zoneReading(z.degC)
		}
	}
}

// Close implements telemetry.Reader.
func (r *temperatureReader) Close() error { return nil }

type loadReader struct{ busy, total float64 }

// Read implements telemetry.Reader.
func (r *loadReader) Read(_ time.Duration, out []telemetry.Reading) {
	times, err := cpu.Times(false)
	if err != nil || len(times) == 0 {
		out[0] = gap(telemetry.GapIO)
		return
	}
	t := times[0]
	idle := t.Idle + t.Iowait
	total := t.User + t.System + t.Nice + t.Irq + t.Softirq + t.Steal + idle
	busy := total - idle
	first, db, dt := r.total == 0, busy-r.busy, total-r.total
	r.busy, r.total = busy, total
	if first || dt <= 0 {
		out[0] = gap(telemetry.NoData)
		return
	}
	out[0] = telemetry.Reading{Value: 100 * min(1, max(0, db/dt)), State: telemetry.Fresh}
}

// Close implements telemetry.Reader.
func (r *loadReader) Close() error { return nil }

type memoryReader struct{}

// Read implements telemetry.Reader.
func (memoryReader) Read(_ time.Duration, out []telemetry.Reading) {
	m, err := mem.VirtualMemory()
	if err != nil {
		out[0] = gap(telemetry.GapIO)
		return
	}
	out[0] = telemetry.Reading{Value: m.UsedPercent, State: telemetry.Fresh}
}

// Close implements telemetry.Reader.
func (memoryReader) Close() error { return nil }
