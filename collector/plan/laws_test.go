package plan

import (
	"fmt"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/collector/telemetry"
)

// Whatever happens in whatever order: the load runs in load phases only, every start has
// its end, nothing is asked for after the end, phases follow one another without a hole,
// and the marks tell the same as the spans.
func TestRunnerLaws(t *testing.T) {
	phase := rapid.Custom(func(t *rapid.T) Phase {
		k := rapid.SampledFrom([]Kind{Rest, Load, Cool, Ask}).Draw(t, "kind")
		if k == Ask {
			return Phase{Kind: Ask, Text: "?"}
		}
		if rapid.Bool().Draw(t, "timed") {
			return timed(k, time.Duration(rapid.IntRange(1, 4).Draw(t, "s"))*time.Second)
		}
		return until(k, rapid.SampledFrom([]string{"settled", "die below 45 degC", "die within 3 K of reference"}).Draw(t, "until"), 3*time.Second)
	})
	rapid.Check(t, func(t *rapid.T) {
		b := newBench(Guard{LimitC: 90, NeedDie: true}, rapid.SliceOfN(phase, 1, 6).Draw(t, "phases")...)
		on := false
		for i := range 400 {
			switch rapid.IntRange(0, 60).Draw(t, "what") {
			case 0:
				b.Pause(!b.Paused())
			case 1:
				b.Skip()
			case 2, 3, 4:
				b.Answer()
			case 5:
				if rapid.IntRange(0, 5).Draw(t, "stop") == 0 {
					b.Stop()
				}
			}
			row := Row{At: float64(i) / 10, CoolantC: 22, DieC: rapid.SampledFrom([]float64{40, 42, 50, 44, 41, 40, 43, 91, none}).Draw(t, "die")}
			if rapid.IntRange(0, 4).Draw(t, "good") > 0 {
				row.DieC = 42
			}
			_, was := b.Over()
			deeds := b.row(row)
			if was && len(deeds) > 0 {
				t.Fatal("deeds after the end")
			}
			for _, d := range deeds {
				switch d.Do {
				case Start:
					if on || d.Work == nil {
						t.Fatal("a second load, or none")
					}
					on = true
				case End:
					if !on {
						t.Fatal("an end without a start")
					}
					on = false
				}
			}
			if on != b.Loaded() || on && b.phases[b.Present()].Kind != Load {
				t.Fatalf("load on %v, known as %v in a phase of %s", on, b.Loaded(), b.phases[b.Present()].Kind)
			}
			if on && row.DieC > 90 {
				t.Fatal("the load runs above the limit")
			}
		}
		if _, over := b.Over(); over && on {
			t.Fatal("the load runs after the end")
		}
		spans, marked := b.Spans(), FromMarks(b.marks)
		if len(spans) != len(marked) {
			t.Fatalf("%d spans, %d marked", len(spans), len(marked))
		}
		for i, s := range spans {
			m := marked[i]
			if m.Number != s.Phase+1 || m.StartS != s.StartS || m.Whole != s.Whole || m.EndS != s.EndS && !(math.IsNaN(m.EndS) && math.IsNaN(s.EndS)) {
				t.Fatalf("span %+v, marked %+v", s, m)
			}
			if i > 0 && (spans[i-1].EndS != s.StartS || spans[i-1].Phase >= s.Phase) {
				t.Fatalf("%+v after %+v", s, spans[i-1])
			}
		}
	})
}

func ExampleFromMarks() {
	marks := []telemetry.Mark{
		{At: 0, Kind: telemetry.MarkCommand, Text: "plan: phase 1 of 2 begins: rest, after 1m0s"},
		{At: 60, Kind: telemetry.MarkCommand, Text: "plan: phase 1 of 2 ends after 60.0 s: the time was over"},
		{At: 60, Kind: telemetry.MarkCommand, Text: "plan: phase 2 of 2 begins: load: make -j8, after 3m0s"},
	}
	for _, m := range FromMarks(marks) {
		fmt.Println(m.Kind, m.StartS, m.EndS, m.Whole)
	}
	// Output:
	// rest 0 60 true
	// load 60 NaN false
}
