package host

import (
	"context"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/source/procstat"
	"soakline/collector/telemetry"
)

// memoryEvery is the pace of memory, which says nothing at 10 Hz.
const memoryEvery = time.Second

func (s *Source) open(context.Context) telemetry.Inventory {
	var inv telemetry.Inventory
	for _, part := range []struct {
		path    string
		channel telemetry.Channel
		every   time.Duration
		reader  func(*rawfs.File) telemetry.Reader
	}{
		{"proc/stat", loadChannel(), 0, func(f *rawfs.File) telemetry.Reader { return &loadReader{file: f} }},
		{"proc/meminfo", memoryChannel(), memoryEvery, func(f *rawfs.File) telemetry.Reader { return &memoryReader{file: f} }},
	} {
		f, err := s.tree.Open(part.path)
		if err != nil {
			inv.Missing = append(inv.Missing, telemetry.Missing{Name: part.channel.Name, Source: name, Role: part.channel.Role, Reason: err.Error()})
			continue
		}
		inv.Groups = append(inv.Groups, telemetry.Group{Name: part.channel.Name, Every: part.every,
			Channels: []telemetry.Channel{part.channel}, Reader: part.reader(f)})
	}
	return inv
}

// loadReader gives the busy share of all processors since the read before. The kernel
// counts in ticks, 100 a second: at 10 Hz one processor's share has 10 % steps.
type loadReader struct {
	file   *rawfs.File
	buf    [512]byte // the first line is at most 10 numbers of 20 digits
	last   procstat.Ticks
	before telemetry.Reading
}

// Read implements telemetry.Reader.
func (r *loadReader) Read(_ time.Duration, out []telemetry.Reading) {
	n, state := r.file.ReadInto(r.buf[:])
	if state != telemetry.Fresh {
		out[0] = gauge.Gap(state)
		return
	}
	var now procstat.Ticks
	procstat.Parse(r.buf[:n], &now, nil)
	first := r.last.Total == 0
	share, ok := now.Busy(r.last)
	switch {
	case now.Total == 0:
		out[0] = gauge.Gap(telemetry.GapUnreadable)
		return
	case first:
		r.before = gauge.Gap(telemetry.NoData)
		out[0] = r.before
	case ok:
		r.before = telemetry.Reading{Value: 100 * share, State: telemetry.Held}
		out[0] = telemetry.Reading{Value: 100 * share, State: telemetry.Fresh}
	default:
		out[0] = r.before // no tick has passed
	}
	r.last = now
}

// Close implements telemetry.Reader.
func (r *loadReader) Close() error { return r.file.Close() }

type memoryReader struct {
	file *rawfs.File
	buf  [1024]byte // both lines stand at the top
}

// Read implements telemetry.Reader.
func (r *memoryReader) Read(_ time.Duration, out []telemetry.Reading) {
	n, state := r.file.ReadInto(r.buf[:])
	if state != telemetry.Fresh {
		out[0] = gauge.Gap(state)
		return
	}
	used, ok := parseMeminfo(r.buf[:n])
	if !ok {
		out[0] = gauge.Gap(telemetry.GapUnreadable)
		return
	}
	out[0] = telemetry.Reading{Value: used, State: telemetry.Fresh}
}

// Close implements telemetry.Reader.
func (r *memoryReader) Close() error { return r.file.Close() }
