package supply

import (
	"bytes"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

// parseLabel finds which of labels a text is: the whole of it, or the word after
// "state:" as the lid's file has it. What is none of them is unreadable.
func parseLabel(text []byte, labels [][]byte) (int, telemetry.State) {
	if rest, ok := bytes.CutPrefix(text, []byte("state:")); ok {
		text = rest
	}
	text = bytes.TrimSpace(text)
	if len(text) == 0 {
		return 0, telemetry.GapEmpty
	}
	for i, l := range labels {
		if bytes.Equal(text, l) {
			return i, telemetry.Fresh
		}
	}
	return 0, telemetry.GapUnreadable
}

func bytesOf(labels []string) [][]byte {
	var all [][]byte
	for _, l := range labels {
		all = append(all, []byte(l))
	}
	return all
}

// labelReader reads one file whose text is one of a few words.
type labelReader struct {
	file   *rawfs.File
	labels [][]byte
}

func (r *labelReader) read() telemetry.Reading {
	text, state := r.file.ReadText()
	if state != telemetry.Fresh {
		return gauge.Gap(state)
	}
	i, state := parseLabel(text, r.labels)
	if state != telemetry.Fresh {
		return gauge.Gap(state)
	}
	return telemetry.Reading{Value: float64(i), State: telemetry.Fresh}
}

// Read implements telemetry.Reader.
func (r *labelReader) Read(_ time.Duration, out []telemetry.Reading) { out[0] = r.read() }

// Close implements telemetry.Reader.
func (r *labelReader) Close() error { return r.file.Close() }
