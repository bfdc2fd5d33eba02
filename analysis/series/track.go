package series

import (
	"math"

	"soakline/collector/telemetry"
)

// Bounds of a Track: blocks of 2 s at first; where more than trackBlocks were kept, pairs
// of them are joined, so that a day of it is some 2000 blocks of a minute or less.
const (
	trackWidth  = 2.0
	trackBlocks = 4096
)

// Track keeps means over short blocks of channels that have no place in a Sample: single
// cores, coolant, a second source of heat. Its memory is bounded, 16 KiB a channel.
type Track struct {
	Index  []int // of the channels, in the order of a block's means
	blocks []TrackBlock
	width  float64
	sum    []float64
	weight []float64
	open   TrackBlock
	steps  []float64 // the smallest change of each channel so far
	last   []float64
}

// TrackBlock is the means over From..To, s, NaN where nothing was known.
type TrackBlock struct {
	From, To float64
	Mean     []float32
}

// NewTrack keeps the channels of these indexes.
func NewTrack(index []int) *Track {
	t := &Track{Index: index, width: trackWidth, open: TrackBlock{From: math.NaN()}}
	t.sum, t.weight = make([]float64, len(index)), make([]float64, len(index))
	t.steps, t.last = make([]float64, len(index)), make([]float64, len(index))
	for i := range t.steps {
		t.steps[i], t.last[i] = math.Inf(1), math.NaN()
	}
	return t
}

// Push takes a row; times must rise.
func (t *Track) Push(at float64, values []float64, states []telemetry.State) {
	if len(t.Index) == 0 {
		return
	}
	if math.IsNaN(t.open.From) {
		t.open.From, t.open.To = at, at
	}
	if at <= t.open.To && at > t.open.From {
		return
	}
	for k, c := range t.Index {
		if c >= len(values) || !states[c].Usable() || !Known(values[c]) {
			continue
		}
		v := values[c]
		if d := math.Abs(v - t.last[k]); d > 1e-3 && d < t.steps[k] {
			t.steps[k] = d
		}
		t.last[k] = v
		t.sum[k] += v
		t.weight[k]++
	}
	t.open.To = at
	if at-t.open.From >= t.width-1e-9 {
		t.shut()
	}
}

// shut ends the open block.
func (t *Track) shut() {
	b := TrackBlock{t.open.From, t.open.To, make([]float32, len(t.Index))}
	for k := range b.Mean {
		b.Mean[k] = float32(t.sum[k] / t.weight[k]) // 0/0 is NaN: nothing known
		t.sum[k], t.weight[k] = 0, 0
	}
	t.open.From = t.open.To
	if t.blocks = append(t.blocks, b); len(t.blocks) < trackBlocks {
		return
	}
	for i := range len(t.blocks) / 2 {
		a, b := t.blocks[2*i], t.blocks[2*i+1]
		for k := range a.Mean {
			switch {
			case b.Mean[k] != b.Mean[k]:
			case a.Mean[k] != a.Mean[k]:
				a.Mean[k] = b.Mean[k]
			default:
				a.Mean[k] = (a.Mean[k] + b.Mean[k]) / 2
			}
		}
		t.blocks[i] = TrackBlock{a.From, b.To, a.Mean}
	}
	t.blocks = t.blocks[:len(t.blocks)/2]
	t.width *= 2
}

// Within is the blocks that lie in from..to, s.
func (t *Track) Within(from, to float64) []TrackBlock {
	var out []TrackBlock
	for _, b := range t.blocks {
		if b.From >= from-1e-9 && b.To <= to+1e-9 {
			out = append(out, b)
		}
	}
	return out
}

// Step is the resolution of the k-th channel: the smallest change it has shown, NaN none.
func (t *Track) Step(k int) float64 {
	if math.IsInf(t.steps[k], 1) {
		return math.NaN()
	}
	return t.steps[k]
}
