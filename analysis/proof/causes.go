package proof

import (
	"fmt"
	"math"
	"strings"

	"soakline/analysis"
	"soakline/analysis/stats"
)

// conditions are what makes a machine or its run hard.
var conditions = []struct {
	name string
	is   func(Truth) bool
}{
	{"no reference measured", func(t Truth) bool { return !t.Machine.HasRef }},
	{"fan, its speed not recorded", func(t Truth) bool { return t.Machine.Fan && !t.Machine.HasFan }},
	{"fan, recorded", func(t Truth) bool { return t.Machine.Fan && t.Machine.HasFan }},
	{"no fan", func(t Truth) bool { return !t.Machine.Fan }},
	{"second source", func(t Truth) bool { return t.Machine.OtherW > 0 }},
	{"passes or duty cycle", func(t Truth) bool { return t.Plan.Dips }},
	{"warm start", func(t Truth) bool { return t.Plan.Before > 0 }},
	{"room drifts by more than 0.5 K/h", func(t Truth) bool { return math.Abs(t.Plan.Drift) > 0.5/3600 }},
	{"whole degrees", func(t Truth) bool { return t.Machine.DieStep == 1 }},
	{"offsets of the sensors over 0.7 K", func(t Truth) bool { return math.Abs(t.Machine.DieOffset-t.Machine.RefOffset) > 0.7 }},
	{"load shorter than its settling", func(t Truth) bool { return t.Plan.LoadTo-t.Plan.LoadFrom < t.SettleS }},
	{"none of these but a fan or none", func(t Truth) bool {
		m := t.Machine
		return m.HasRef && m.OtherW == 0 && !t.Plan.Dips && t.Plan.Before == 0 && m.DieStep < 1
	}},
}

// causes counts, by condition, the machines that an answer was given for and those among
// them whose error is too large.
type causes struct {
	all, missed [16]int
	promised    float64 // sum of the shares that the intervals themselves promise
	n           int
}

func (c *causes) add(t Truth, got, low, high analysis.Number, truth, within float64) {
	if !got.Known() {
		return
	}
	for i, k := range conditions {
		if k.is(t) {
			c.all[i]++
			if math.Abs(float64(got)-truth) > within {
				c.missed[i]++
			}
		}
	}
	sd := float64(high-low) / 2 / stats.NormalQuantile(0.95)
	c.promised += math.Erf(within / sd / math.Sqrt2)
	c.n++
}

// table says how many of the machines under each condition were missed.
func table(names []string, cs []*causes) string {
	b := &strings.Builder{}
	fmt.Fprintf(b, "| condition | missed of %s |\n| --- |%s\n", strings.Join(names, " | missed of "), strings.Repeat(" --- |", len(cs)))
	for i, k := range conditions {
		fmt.Fprintf(b, "| %s |", k.name)
		for _, c := range cs {
			fmt.Fprintf(b, " %d of %d |", c.missed[i], c.all[i])
		}
		fmt.Fprintln(b)
	}
	fmt.Fprint(b, "| share right that the intervals promise |")
	for _, c := range cs {
		fmt.Fprintf(b, " %.0f %% |", 100*c.promised/float64(max(c.n, 1)))
	}
	return b.String() + "\n"
}
