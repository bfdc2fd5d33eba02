package replay

import (
	"math"
	"time"

	"soakline/collector/telemetry"
)

// reader gives the rows to one follower, each Fresh once.
type reader struct {
	source *Source
	row    int // last given, -1 before the first
}

// Read fills out with the row that stands at the time at. A row given before is held; a
// value that was renewed in a row passed over is fresh; in a hole of the recording all
// channels are stale.
func (r *reader) Read(at time.Duration, out []telemetry.Reading) {
	row, stands := r.source.row(at)
	tr := r.source.trace
	for c := range out {
		out[c] = telemetry.Reading{Value: math.NaN(), State: telemetry.GapStale}
		if !stands {
			continue
		}
		if state := tr.StateAt(c, row); !state.Usable() {
			out[c].State = state
		} else {
			out[c] = telemetry.Reading{Value: tr.Values[c][row], State: r.renewed(c, row)}
		}
	}
	r.row = row
}

// renewed is Fresh where channel c was measured in one of the rows since the last that
// was given, else Held.
func (r *reader) renewed(c, row int) telemetry.State {
	for i := row; i > r.row; i-- {
		if r.source.trace.StateAt(c, i) == telemetry.Fresh {
			return telemetry.Fresh
		}
	}
	return telemetry.Held
}

// Close ends nothing: the trace is in memory.
func (r *reader) Close() error { return nil }
