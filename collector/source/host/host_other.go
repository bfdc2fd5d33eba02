//go:build !linux

package host

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/shirou/gopsutil/v3/cpu"
	"github.com/shirou/gopsutil/v3/host"
	"github.com/shirou/gopsutil/v3/mem"

	"soakline/collector/quantity"
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
	inv.Missing = append(inv.Missing, telemetry.Missing{Name: "package power", Source: name, Role: telemetry.RolePower,
		Reason: "this system gives no program access to energy counters without a driver of its own",
		Remedy: "Let a reader of your own push the values, or use a supply that reports its power."})
	return inv
}

// openTemperatures takes the temperatures that the system's interface offers. On
// Windows these are firmware zones, not cores, and may be constant.
func openTemperatures(ctx context.Context, inv *telemetry.Inventory) {
	stats, err := host.SensorsTemperaturesWithContext(ctx) // err may be a list of warnings beside good data
	if len(stats) == 0 {
		reason := "the system reports no temperature"
		if err != nil {
			reason = err.Error()
		}
		inv.Missing = append(inv.Missing, telemetry.Missing{Name: "temperatures", Source: name, Role: telemetry.RoleDie, Reason: reason})
		return
	}
	r := &temperatureReader{index: map[string]int{}}
	g := telemetry.Group{Name: "temperatures", Every: temperatureEvery, Slow: true, Reader: r}
	for _, st := range unique(stats) {
		r.index[st.SensorKey] = len(g.Channels)
		c := telemetry.Channel{Key: name + "/temperature/" + st.SensorKey, Name: st.SensorKey, Quantity: quantity.Temperature,
			Source: name, Device: "system interface"}
		if k := strings.ToLower(st.SensorKey); strings.Contains(k, "cpu") || strings.Contains(k, "thermalzone") {
			c.Role, c.Rank = telemetry.RoleDie, 5
		}
		g.Channels = append(g.Channels, c)
	}
	inv.Groups = append(inv.Groups, g)
}

// unique numbers sensors that share a key, in the order in which the system gives them.
func unique(stats []host.TemperatureStat) []host.TemperatureStat {
	seen := map[string]int{}
	for i := range stats {
		k := stats[i].SensorKey
		if seen[k]++; seen[k] > 1 {
			stats[i].SensorKey = fmt.Sprintf("%s#%d", k, seen[k])
		}
	}
	return stats
}

func gap(s telemetry.State) telemetry.Reading { return telemetry.Reading{Value: math.NaN(), State: s} }

type temperatureReader struct{ index map[string]int }

// Read implements telemetry.Reader. The system's interface allocates.
func (r *temperatureReader) Read(_ time.Duration, out []telemetry.Reading) {
	for i := range out {
		out[i] = gap(telemetry.GapGone)
	}
	stats, _ := host.SensorsTemperatures()
	for _, st := range unique(stats) {
		i, ok := r.index[st.SensorKey]
		switch {
		case !ok:
		case st.Temperature < -55 || st.Temperature > 126.9 || st.Temperature == 0:
			out[i] = gap(telemetry.GapImplausible)
		default:
			out[i] = telemetry.Reading{Value: st.Temperature, State: telemetry.Fresh}
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
