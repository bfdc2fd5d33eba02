package series

import (
	"math"
	"testing"

	"soakline/collector/telemetry"
)

// TestTrack: block means are those of the samples, gaps are left out, and the memory stays
// bounded over days while the mean over everything is kept.
func TestTrack(t *testing.T) {
	tr := NewTrack([]int{2, 0})
	states := []telemetry.State{telemetry.Fresh, telemetry.Fresh, telemetry.Fresh}
	sum := 0.0
	const n = 300000
	for i := range n {
		v := 50 + 10*math.Sin(float64(i)/5000) + 0.5*float64(i%2)
		sum += v / n
		row := []float64{20, 0, v}
		if i%7 == 3 {
			row[0] = math.NaN()
		}
		tr.Push(float64(i), row, states)
	}
	blocks := tr.Within(0, n)
	if len(blocks) > trackBlocks || len(blocks) < trackBlocks/4 {
		t.Errorf("%d blocks", len(blocks))
	}
	got, length := 0.0, 0.0
	for i, b := range blocks {
		if i > 0 && b.From != blocks[i-1].To {
			t.Fatalf("a hole before %g s", b.From)
		}
		got += float64(b.Mean[0]) * (b.To - b.From)
		length += b.To - b.From
		if b.Mean[1] != 20 {
			t.Fatalf("a gap counts: %g", b.Mean[1])
		}
	}
	if math.Abs(got/length-sum) > 0.05 {
		t.Errorf("mean %.3f, want %.3f", got/length, sum)
	}
	if s := tr.Step(0); s > 0.5 || s <= 0 || !math.IsNaN(tr.Step(1)) {
		t.Errorf("resolutions %g, %g", s, tr.Step(1))
	}
}

// TestTrackGap: a block in which nothing was known is not known.
func TestTrackGap(t *testing.T) {
	tr := NewTrack([]int{0})
	for i := range 100 {
		state := telemetry.Fresh
		if i >= 40 && i < 80 {
			state = telemetry.GapGone
		}
		tr.Push(float64(i)/10, []float64{7}, []telemetry.State{state})
	}
	for _, b := range tr.Within(0, 10) {
		if known := Known(float64(b.Mean[0])); known != (b.To <= 4.1 || b.From >= 5.9) { // the sample at 8 s ends the block that began at 6
			t.Errorf("%g to %g s: %g", b.From, b.To, b.Mean[0])
		}
	}
}
