package wire

import (
	"encoding/binary"
	"fmt"
	"math"
)

// historyFixed is what a history holds between header and planes: f64 from_s,
// f64 width_s, u64 last_seq.
const historyFixed = 24

// History is a span of time in buckets of equal width on the absolute grid
// floor(t/width). Channel c in bucket b is at [c*Buckets+b] of each plane, NaN where a
// bucket has no value.
type History struct {
	ChannelsVersion   uint32
	Channels, Buckets int
	FromS, WidthS     float64
	LastSeq           uint64 // the last row that the buckets hold
	Min, Mean, Max    []float32
}

// Append writes a history: the header with type 4, count = channels and seq = buckets,
// then from_s, width_s, last_seq and the three planes. A plane of another size is an
// error.
func (h History) Append(dst []byte) ([]byte, error) {
	if h.Channels > MaxChannels {
		return dst, fmt.Errorf("history of %d channels: at most %d", h.Channels, MaxChannels)
	}
	planes := [...][]float32{h.Min, h.Mean, h.Max}
	for _, plane := range planes {
		if len(plane) != h.Channels*h.Buckets {
			return dst, fmt.Errorf("history of %d channels and %d buckets: a plane has %d values", h.Channels, h.Buckets, len(plane))
		}
	}
	dst = Header{TypeHistory, uint16(h.Channels), h.ChannelsVersion, uint64(h.Buckets)}.Append(dst)
	dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(h.FromS))
	dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(h.WidthS))
	dst = binary.LittleEndian.AppendUint64(dst, h.LastSeq)
	for _, plane := range planes {
		for _, v := range plane {
			dst = binary.LittleEndian.AppendUint32(dst, bitsOrGap(v))
		}
	}
	return dst, nil
}

func bitsOrGap(v float32) uint32 {
	if math.Abs(float64(v)) <= math.MaxFloat32 {
		return math.Float32bits(v)
	}
	return gap
}

// DecodeHistory reads a history frame.
func DecodeHistory(b []byte) (History, error) {
	head, rest, err := parse(b, TypeHistory)
	if err != nil {
		return History{}, err
	}
	channels, buckets := uint64(head.Count), head.Seq
	if channels == 0 && buckets != 0 || buckets > uint64(len(b)) ||
		uint64(len(rest)) != historyFixed+3*4*channels*buckets {
		return History{}, fmt.Errorf("history of %d channels and %d buckets does not have %d bytes", channels, buckets, len(b))
	}
	h := History{
		ChannelsVersion: head.ChannelsVersion,
		Channels:        int(channels),
		Buckets:         int(buckets),
		FromS:           math.Float64frombits(binary.LittleEndian.Uint64(rest)),
		WidthS:          math.Float64frombits(binary.LittleEndian.Uint64(rest[8:])),
		LastSeq:         binary.LittleEndian.Uint64(rest[16:]),
	}
	rest = rest[historyFixed:]
	for _, plane := range [...]*[]float32{&h.Min, &h.Mean, &h.Max} {
		*plane = make([]float32, h.Channels*h.Buckets)
		for i := range *plane {
			(*plane)[i] = math.Float32frombits(binary.LittleEndian.Uint32(rest[4*i:]))
		}
		rest = rest[4*len(*plane):]
	}
	return h, nil
}
