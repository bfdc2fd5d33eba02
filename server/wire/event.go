package wire

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
)

// EventKind tells events apart.
type EventKind string

// The events.
const (
	EventLayout   EventKind = "layout"   // ask for the layout again
	EventMark     EventKind = "mark"     // a mark was made or its text changed
	EventSetup    EventKind = "setup"    // the setup changed
	EventAnalysis EventKind = "analysis" // what is known now
	EventEnd      EventKind = "end"      // the session ended
)

// Event is the body of an event frame; only the fields of its kind are present.
type Event struct {
	Kind  EventKind `json:"kind"`
	Mark  *Mark     `json:"mark,omitempty"`
	Setup []Setting `json:"setup,omitzero"`
	Why   string    `json:"why,omitempty"`
}

// AppendEvent writes an event frame. body is an Event, an Analysis or a Setup event.
// lastSeq is the last row before it.
func AppendEvent(dst []byte, channelsVersion uint32, lastSeq uint64, body any) ([]byte, error) {
	text, err := json.Marshal(body)
	if err != nil {
		return dst, fmt.Errorf("event: %w", err)
	}
	dst = Header{TypeEvent, 0, channelsVersion, lastSeq}.Append(dst)
	return append(dst, text...), nil
}

// AppendSkip writes a skip frame: the viewer was too slow, or asked for rows that are
// gone; live rows go on at nextSeq.
func AppendSkip(dst []byte, channelsVersion uint32, nextSeq uint64) []byte {
	return Header{TypeSkip, 0, channelsVersion, nextSeq}.Append(dst)
}

// Ack is the one message that the page sends: the last row that it has drawn.
type Ack struct {
	Seq uint64 `json:"seq"`
}

// MaxAck is the longest message that the page may send, in bytes.
const MaxAck = 512

// ParseAck reads the page's message {"seq":N}; anything else is an error.
func ParseAck(b []byte) (uint64, error) {
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	var a struct{ Seq *uint64 }
	if err := d.Decode(&a); err != nil || a.Seq == nil || d.More() {
		return 0, errors.New(`expected {"seq":N}`)
	}
	return *a.Seq, nil
}
