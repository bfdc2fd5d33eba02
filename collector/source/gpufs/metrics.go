package gpufs

import (
	"errors"
	"fmt"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

// entry is one channel of a metrics table.
type entry struct {
	what     string
	field    string
	quantity quantity.Kind
	per      float64 // of what the table counts in one canonical unit
	min, max float64 // what can be true: a table in other units than thought makes gaps
}

// entries of cards (format 1): °C, W, MHz, rpm, mV.
var cardEntries = []entry{
	{"edge temperature", "edge", quantity.Temperature, 1, 1, 126}, {"hotspot temperature", "hotspot", quantity.Temperature, 1, 1, 126},
	{"memory temperature", "mem", quantity.Temperature, 1, 1, 126}, {"regulator temperature", "vrgfx", quantity.Temperature, 1, 1, 150},
	{"power", "socket_power", quantity.Power, 1, 0, 2000}, {"load", "gfx_activity", quantity.Share, 1, 0, 100},
	{"clock", "gfxclk", quantity.Frequency, 1, 0, 10000}, {"memory clock", "uclk", quantity.Frequency, 1, 0, 10000},
	{"fan", "fan", quantity.Rotation, 1, 0, 20000}, {"voltage", "gfx_mv", quantity.Potential, 1000, 0.1, 3},
}

// entries of processors with graphics (formats 2 and 3): centi-°C and mW, which the header
// states for 2.4 and, of power, for 3.0; for the others from memory: hence the bounds,
// below which a table in whole °C or W falls.
var processorEntries = []entry{
	{"temperature", "gfx_temp", quantity.Temperature, 100, 5, 126}, {"SoC temperature", "soc_temp", quantity.Temperature, 100, 5, 126},
	{"processor core 0 temperature", "core_temp[0]", quantity.Temperature, 100, 5, 126}, {"skin temperature", "skin_temp", quantity.Temperature, 100, 5, 126},
	{"socket power", "socket_power", quantity.Power, 1000, 0.2, 1000}, {"power", "gfx_power", quantity.Power, 1000, 0, 1000},
	{"processor power", "cpu_power", quantity.Power, 1000, 0, 1000}, {"all cores power", "all_core_power", quantity.Power, 1000, 0, 1000},
	{"sustained limit", "current_stapm_limit", quantity.Power, 1000, 1, 1000},
	{"clock", "gfxclk", quantity.Frequency, 1, 0, 10000}, {"clock averaged", "avg_gfxclk", quantity.Frequency, 1, 0, 10000},
}

// spot is an entry with its place in this unit's table.
type spot struct {
	entry
	at place
}

// metricsReader reads one table at a time: a coherent snapshot.
type metricsReader struct {
	status *rawfs.File
	file   *rawfs.File
	layout layout
	is     version
	spots  []spot
	indep  place   // the throttle word; width 0: none
	counts []place // the residencies of format 3
	last   [16]uint64
	seen   bool
	buf    [4096]byte
}

// openMetrics adds an AMD unit.
func (s *Source) openMetrics(inv *telemetry.Inventory, u unit) {
	file := u.device + "/gpu_metrics"
	if !s.tree.Exists(file) {
		return // an older unit, or another driver: hwmon has what there is
	}
	f, err := s.tree.Open(file)
	if err != nil {
		inv.Missing = append(inv.Missing, missing(u, "metrics table", err))
		return
	}
	r := &metricsReader{file: f, status: s.status(u)}
	if !awake(r.status) {
		s.asleep(inv, u, r)
		return
	}
	n, state := f.ReadInto(r.buf[:])
	size, v, ok := header(r.buf[:n])
	l, known := layouts[v]
	switch {
	case state != telemetry.Fresh:
		err = errors.New(state.Reason())
	case !ok || size > n:
		err = fmt.Errorf("%d bytes, of which the header announces %d", n, size)
	case !known:
		err = fmt.Errorf("the table's version %v is not known", v)
	case size < l.size:
		err = fmt.Errorf("a table of version %v has %d bytes, not %d", v, l.size, size)
	}
	if err != nil {
		r.Close()
		inv.Missing = append(inv.Missing, missing(u, "metrics table", fmt.Errorf("%s: %w", s.tree.Path(file), err)))
		return
	}
	r.layout, r.is = l, v
	inv.Groups = append(inv.Groups, telemetry.Group{Name: u.title + " metrics", Every: every, Slow: true, Reader: r, Channels: r.choose(u)})
}

// asleep lists a sleeping unit by one channel: which version its table has cannot be
// learnt without waking it. Awake, it says that it is gone, upon which the source is
// opened anew and finds the rest.
func (s *Source) asleep(inv *telemetry.Inventory, u unit, r *metricsReader) {
	r.spots = []spot{{entry: cardEntries[4]}}
	inv.Groups = append(inv.Groups, telemetry.Group{Name: u.title + " metrics", Every: every, Slow: true, Reader: r,
		Channels: []telemetry.Channel{u.channel("power", quantity.Power)}})
	inv.Missing = append(inv.Missing, telemetry.Missing{Name: u.title + " metrics", Source: name,
		Reason: "the unit sleeps and is left asleep", Remedy: "Give the unit something to do: its channels appear when it wakes."})
}

// choose makes the channels of what the table just read reports.
func (r *metricsReader) choose(u unit) []telemetry.Channel {
	entries := cardEntries
	if r.is.format > 1 {
		entries = processorEntries
	}
	var chs []telemetry.Channel
	for _, e := range entries {
		at, there := r.layout.fields[e.field]
		if !there {
			continue
		}
		if _, reported := at.value(r.buf[:]); !reported {
			continue
		}
		r.spots = append(r.spots, spot{e, at})
		chs = append(chs, u.channel(e.what, e.quantity))
	}
	reasons := u.channel("reasons", quantity.Bits)
	if r.is.format > 1 { // the processor's own power and heat limits
		reasons.Role, reasons.Rank = telemetry.RoleReasons, 40
	}
	if at, there := r.layout.fields["indep_throttle"]; there {
		if _, reported := at.value(r.buf[:]); reported {
			r.indep, reasons.Bits = at, reasonBits()
			return append(chs, reasons)
		}
	}
	for _, res := range residencies {
		if at, there := r.layout.fields[res.field]; there {
			r.counts = append(r.counts, at)
		}
	}
	if len(r.counts) > 0 {
		reasons.Bits = residencyBits()
		chs = append(chs, reasons)
	}
	return chs
}

// Read implements telemetry.Reader.
func (r *metricsReader) Read(_ time.Duration, out []telemetry.Reading) {
	state := telemetry.GapAsleep
	if awake(r.status) {
		state = r.fetch()
	}
	if state != telemetry.Fresh {
		for i := range out {
			out[i] = gauge.Gap(state)
		}
		r.seen = false
		return
	}
	for i := range r.spots {
		out[i] = r.spots[i].reading(r.buf[:])
	}
	if n := len(r.spots); n < len(out) {
		out[n] = r.reasons()
	}
}

// fetch reads the table and checks that it is still of the same version.
func (r *metricsReader) fetch() telemetry.State {
	if r.layout.size == 0 {
		return telemetry.GapGone // it slept when it was opened: look at it anew
	}
	n, state := r.file.ReadInto(r.buf[:])
	if state != telemetry.Fresh {
		return state
	}
	if size, v, ok := header(r.buf[:n]); !ok || v != r.is || size > n || n < r.layout.size {
		return telemetry.GapUnreadable
	}
	return telemetry.Fresh
}

func (s *spot) reading(b []byte) telemetry.Reading {
	raw, reported := s.at.value(b)
	if !reported {
		return gauge.Gap(telemetry.GapDisabled)
	}
	v := float64(raw) / s.per
	if v < s.min || v > s.max {
		return gauge.Gap(telemetry.GapImplausible)
	}
	return telemetry.Reading{Value: v, State: telemetry.Fresh}
}

// reasons gives the throttle word, or which residencies grew since the last read.
func (r *metricsReader) reasons() telemetry.Reading {
	if r.indep.width != 0 {
		status, reported := r.indep.value(r.buf[:])
		if !reported {
			return gauge.Gap(telemetry.GapDisabled)
		}
		return telemetry.Reading{Value: float64(gather(status)), State: telemetry.Fresh}
	}
	mask, before := uint64(0), r.seen
	for i, at := range r.counts {
		v, reported := at.value(r.buf[:])
		if reported && before && v != r.last[i] {
			mask |= 1 << i
		}
		r.last[i] = v
	}
	r.seen = true
	if !before {
		return gauge.Gap(telemetry.NoData)
	}
	return telemetry.Reading{Value: float64(mask), State: telemetry.Fresh}
}

// Close implements telemetry.Reader.
func (r *metricsReader) Close() error { return errors.Join(r.file.Close(), r.status.Close()) }

// awake is true unless the kernel says that the unit sleeps.
func awake(status *rawfs.File) bool {
	if status == nil {
		return true
	}
	text, state := status.ReadText()
	return state != telemetry.Fresh || gauge.Active(text)
}
