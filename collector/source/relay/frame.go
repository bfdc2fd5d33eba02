package relay

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"soakline/collector/telemetry"
)

// The frames of version 1, see the table in DEVELOPERS.md.
const (
	version    = 1
	typeRow    = 1
	typeEvent  = 2
	headerSize = 16 // u8 version, u8 type, u16 count, u32 channels version, u64 seq
	rowFixed   = 12 // f64 at_s, f32 lateness_ms
)

// frame is a message of the stream.
type frame struct {
	kind     byte
	channels uint32 // version of the list
	row      telemetry.Row
	event    event
}

// event is the JSON body of an event.
type event struct {
	Kind  string    `json:"kind"`
	Mark  *mark     `json:"mark"`
	Setup []setting `json:"setup"`
	Why   string    `json:"why"`
}

type mark struct {
	ID   int64   `json:"id"`
	AtS  float64 `json:"at_s"`
	Kind string  `json:"kind"`
	Text string  `json:"text"`
}

type setting struct {
	Key   string `json:"key"`
	Value string `json:"value"`
}

// decode reads a message. One of a type that is not known is no error: it is of a
// version that added it.
func decode(b []byte) (f frame, err error) {
	if len(b) < headerSize {
		return f, fmt.Errorf("frame of %d bytes: the header alone has %d", len(b), headerSize)
	}
	if b[0] != version {
		return f, fmt.Errorf("frame of version %d: this soakline reads version %d; use the same release on both computers", b[0], version)
	}
	f.kind, f.channels = b[1], binary.LittleEndian.Uint32(b[4:])
	switch n := int(binary.LittleEndian.Uint16(b[2:])); f.kind {
	case typeRow:
		if len(b) != headerSize+rowFixed+5*n {
			return f, fmt.Errorf("row of %d channels: %d bytes, needed are %d", n, len(b), headerSize+rowFixed+5*n)
		}
		f.row, err = decodeRow(b[headerSize:], n)
		f.row.Seq = binary.LittleEndian.Uint64(b[8:])
	case typeEvent:
		if err = json.Unmarshal(b[headerSize:], &f.event); err != nil {
			err = fmt.Errorf("event: %w", err)
		}
	}
	return f, err
}

func decodeRow(b []byte, n int) (r telemetry.Row, err error) {
	r.At = math.Float64frombits(binary.LittleEndian.Uint64(b))
	late := float64(math.Float32frombits(binary.LittleEndian.Uint32(b[8:])))
	if !(math.Abs(r.At) < 1e9) || !(math.Abs(late) < 1e12) {
		return r, fmt.Errorf("row at %v s, %v ms late: no such time", r.At, late)
	}
	r.Lateness = time.Duration(late * float64(time.Millisecond))
	values, states := b[rowFixed:rowFixed+4*n], b[rowFixed+4*n:]
	r.Values, r.States = make([]float64, n), make([]telemetry.State, n)
	for i := range n {
		r.Values[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(values[4*i:])))
		r.States[i] = telemetry.State(states[i])
		if int(states[i]) >= telemetry.NumStates { // a gap that this release has no word for
			r.Values[i], r.States[i] = math.NaN(), telemetry.NoData
		}
	}
	return r, nil
}

// nextSized splits the first message off an answer of /api/rows.
func nextSized(b []byte) (msg, rest []byte, err error) {
	if len(b) < 4 {
		return nil, nil, errors.New("the rows broke off")
	}
	n := binary.LittleEndian.Uint32(b)
	if uint64(n) > uint64(len(b)-4) {
		return nil, nil, errors.New("the rows broke off")
	}
	return b[4 : 4+n], b[4+n:], nil
}
