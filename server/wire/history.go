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
// floor(t/width). Its planes are channel-major: [channel][bucket], NaN where a bucket
// has no value.
type History struct {
	ChannelsVersion uint32
	FromS, WidthS   float64
	LastSeq         uint64 // the last row that the buckets hold
	Min, Mean, Max  [][]float32
}

// Append writes a history: the header with type 4, count = channels and seq = buckets,
// then from_s, width_s, last_seq and the three planes. Planes of unequal size are an
// error.
func (h History) Append(dst []byte) ([]byte, error) {
	buckets := 0
	if len(h.Mean) > 0 {
		buckets = len(h.Mean[0])
	}
	if len(h.Mean) > MaxChannels {
		return dst, fmt.Errorf("history of %d channels: at most %d", len(h.Mean), MaxChannels)
	}
	dst = Header{TypeHistory, uint16(len(h.Mean)), h.ChannelsVersion, uint64(buckets)}.Append(dst)
	dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(h.FromS))
	dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(h.WidthS))
	dst = binary.LittleEndian.AppendUint64(dst, h.LastSeq)
	for _, plane := range [...][][]float32{h.Min, h.Mean, h.Max} {
		if len(plane) != len(h.Mean) {
			return dst, fmt.Errorf("history: planes of %d and %d channels", len(plane), len(h.Mean))
		}
		for c, column := range plane {
			if len(column) != buckets {
				return dst, fmt.Errorf("history: channel %d has %d buckets, the first has %d", c, len(column), buckets)
			}
			for _, v := range column {
				dst = binary.LittleEndian.AppendUint32(dst, bitsOrGap(v))
			}
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
		FromS:           math.Float64frombits(binary.LittleEndian.Uint64(rest)),
		WidthS:          math.Float64frombits(binary.LittleEndian.Uint64(rest[8:])),
		LastSeq:         binary.LittleEndian.Uint64(rest[16:]),
	}
	rest = rest[historyFixed:]
	for _, plane := range [...]*[][]float32{&h.Min, &h.Mean, &h.Max} {
		*plane = make([][]float32, channels)
		for c := range *plane {
			column := make([]float32, buckets)
			for i := range column {
				column[i] = math.Float32frombits(binary.LittleEndian.Uint32(rest[4*i:]))
			}
			(*plane)[c], rest = column, rest[4*buckets:]
		}
	}
	return h, nil
}
