package wire

import (
	"encoding/binary"
	"fmt"
	"math"
	"time"

	"soakline/collector/telemetry"
)

// rowFixed is what a row holds between header and values: f64 at_s, f32 lateness_ms.
const rowFixed = 12

// RowSize is the length of a row of n channels in bytes.
func RowSize(n int) int { return HeaderSize + rowFixed + 5*n }

// gap is the quiet NaN that stands for every missing value, one bit pattern for all so
// that equal rows give equal bytes.
var gap = math.Float32bits(float32(math.NaN()))

// AppendRow writes a row: the header, f64 at_s, f32 lateness_ms, f32[count] values,
// u8[count] states. A gap never carries a number, and a value that float32 cannot hold
// as a finite number becomes a gap of state GapImplausible.
func AppendRow(dst []byte, channelsVersion uint32, r telemetry.Row) ([]byte, error) {
	n := len(r.Values)
	if n != len(r.States) || n > MaxChannels {
		return dst, fmt.Errorf("row %d: %d values and %d states; both counts must be equal and at most %d",
			r.Seq, n, len(r.States), MaxChannels)
	}
	dst = Header{TypeRow, uint16(n), channelsVersion, r.Seq}.Append(dst)
	dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(r.At))
	late := float32(r.Lateness) / float32(time.Millisecond)
	dst = binary.LittleEndian.AppendUint32(dst, math.Float32bits(late))
	for i, v := range r.Values {
		bits := gap
		if r.States[i].Usable() && finite32(v) {
			bits = math.Float32bits(float32(v))
		}
		dst = binary.LittleEndian.AppendUint32(dst, bits)
	}
	for i, s := range r.States {
		if s.Usable() && !finite32(r.Values[i]) {
			s = telemetry.GapImplausible
		}
		dst = append(dst, byte(s))
	}
	return dst, nil
}

func finite32(v float64) bool { return math.Abs(v) <= math.MaxFloat32 }

// DecodeRow reads a row frame into r, whose slices it reuses.
func DecodeRow(b []byte, r *telemetry.Row) (Header, error) {
	h, rest, err := parse(b, TypeRow)
	if err != nil {
		return h, err
	}
	n := int(h.Count)
	if len(b) != RowSize(n) {
		return h, fmt.Errorf("row %d of %d channels: %d bytes, needed are %d", h.Seq, n, len(b), RowSize(n))
	}
	r.Seq = h.Seq
	r.At = math.Float64frombits(binary.LittleEndian.Uint64(rest))
	late := math.Float32frombits(binary.LittleEndian.Uint32(rest[8:]))
	r.Lateness = time.Duration(float64(late) * float64(time.Millisecond))
	r.Values, r.States = r.Values[:0], r.States[:0]
	values, states := rest[rowFixed:rowFixed+4*n], rest[rowFixed+4*n:]
	for i := range n {
		r.Values = append(r.Values, float64(math.Float32frombits(binary.LittleEndian.Uint32(values[4*i:]))))
		r.States = append(r.States, telemetry.State(states[i]))
	}
	return h, nil
}

// BeginSized reserves the u32 length that precedes each message in the answer of
// GET /api/rows; EndSized fills it in. at is the value that BeginSized gave.
func BeginSized(dst []byte) (out []byte, at int) {
	return append(dst, 0, 0, 0, 0), len(dst)
}

// EndSized writes the length of what was appended since BeginSized.
func EndSized(dst []byte, at int) []byte {
	binary.LittleEndian.PutUint32(dst[at:], uint32(len(dst)-at-4))
	return dst
}

// NextSized splits the first message off a sequence of sized messages.
func NextSized(b []byte) (msg, rest []byte, err error) {
	if len(b) < 4 {
		return nil, nil, fmt.Errorf("sized message: %d bytes left, the length alone has 4", len(b))
	}
	n := binary.LittleEndian.Uint32(b)
	if uint64(n) > uint64(len(b)-4) {
		return nil, nil, fmt.Errorf("sized message: says %d bytes, only %d are left", n, len(b)-4)
	}
	return b[4 : 4+n], b[4+n:], nil
}
