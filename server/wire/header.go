package wire

import (
	"encoding/binary"
	"fmt"
)

// Version is the first byte of every frame.
const Version = 1

// HeaderSize is the length of the header of every frame, in bytes.
const HeaderSize = 16

// MaxChannels is the most that a frame can count.
const MaxChannels = 1<<16 - 1

// Type says what follows the header.
type Type uint8

// The frame types.
const (
	TypeRow     Type = 1
	TypeEvent   Type = 2
	TypeSkip    Type = 3
	TypeHistory Type = 4
)

// Header begins every frame: u8 version, u8 type, u16 count, u32 channels version, u64 seq.
type Header struct {
	Type            Type
	Count           uint16 // channels in a row or history, else 0
	ChannelsVersion uint32 // which set of channels the columns belong to
	Seq             uint64 // row: its number; event: the last row's; skip: the next row's; history: buckets
}

// Append writes the header.
func (h Header) Append(dst []byte) []byte {
	dst = append(dst, Version, byte(h.Type))
	dst = binary.LittleEndian.AppendUint16(dst, h.Count)
	dst = binary.LittleEndian.AppendUint32(dst, h.ChannelsVersion)
	return binary.LittleEndian.AppendUint64(dst, h.Seq)
}

// ParseHeader reads the header of a frame and gives what follows it. A frame that is
// too short or of another version is an error.
func ParseHeader(b []byte) (Header, []byte, error) {
	if len(b) < HeaderSize {
		return Header{}, nil, fmt.Errorf("frame of %d bytes: the header alone has %d", len(b), HeaderSize)
	}
	if b[0] != Version {
		return Header{}, nil, fmt.Errorf("frame of version %d: this program reads version %d", b[0], Version)
	}
	h := Header{
		Type:            Type(b[1]),
		Count:           binary.LittleEndian.Uint16(b[2:]),
		ChannelsVersion: binary.LittleEndian.Uint32(b[4:]),
		Seq:             binary.LittleEndian.Uint64(b[8:]),
	}
	return h, b[HeaderSize:], nil
}

func parse(b []byte, want Type) (Header, []byte, error) {
	h, rest, err := ParseHeader(b)
	if err == nil && h.Type != want {
		err = fmt.Errorf("frame of type %d where type %d was expected", h.Type, want)
	}
	return h, rest, err
}
