package proof

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"soakline/analysis"
	"soakline/analysis/stats"
)

// Tally collects the errors of one quantity over many machines.
type Tally struct {
	Name, Unit string
	Within     float64 // the error that counts as right, in Unit
	Share      float64 // the share that must be right; 0 sets no target
	Covers     bool    // the 90 % interval is to hold the truth in 85 to 95 %
	Least      float64 // least coverage where only that is asked
	errs       []float64
	covered, n int
	missing    int
}

// Add takes one answer; an unknown one counts as missing.
func (t *Tally) Add(got, low, high analysis.Number, truth, scale float64) {
	if !got.Known() {
		t.missing++
		return
	}
	t.errs = append(t.errs, (float64(got)-truth)*scale)
	if low.Known() && high.Known() {
		t.n++
		if float64(low) <= truth && truth <= float64(high) {
			t.covered++
		}
	}
}

// Row is the tally as a line of a Markdown table.
func (t *Tally) Row() string {
	right, sizes := 0, make([]float64, 0, len(t.errs))
	for _, e := range t.errs {
		sizes = append(sizes, math.Abs(e))
		if math.Abs(e) <= t.Within {
			right++
		}
	}
	cover := "-"
	if t.n > 0 {
		cover = fmt.Sprintf("%.0f %%", 100*float64(t.covered)/float64(t.n))
	}
	target := []string{}
	if t.Share > 0 {
		target = append(target, fmt.Sprintf("within %g %s in %.0f %%", t.Within, t.Unit, 100*t.Share))
	}
	if t.Covers {
		target = append(target, "coverage 85 to 95 %")
	}
	if t.Least > 0 {
		target = append(target, fmt.Sprintf("coverage at least %.0f %%", 100*t.Least))
	}
	return fmt.Sprintf("| %s | %d | %d | %+.2f %s | %.2f %s | %.0f %% | %s | %s |", t.Name, len(t.errs), t.missing,
		stats.Mean(t.errs), t.Unit, stats.Quantile(sizes, 0.9), t.Unit, 100*float64(right)/float64(max(len(t.errs), 1)), cover, strings.Join(target, "; "))
}

// byChance is the likelihood of so few right answers or fewer where the target is met.
func byChance(got, n int, target float64) float64 {
	return distuv.Binomial{N: float64(n), P: target}.CDF(float64(got))
}

// Miss says which target is missed by more than chance explains (one case in a thousand);
// "" if none.
func (t *Tally) Miss() string {
	right := 0
	for _, e := range t.errs {
		if math.Abs(e) <= t.Within {
			right++
		}
	}
	below := func(got, n int, target float64) bool { return n > 0 && byChance(got, n, target) < 1e-3 }
	least := t.Least
	if t.Covers {
		least = 0.85
	}
	switch {
	case t.Share > 0 && below(right, len(t.errs), t.Share):
		return fmt.Sprintf("%s: only %d of %d within %g %s", t.Name, right, len(t.errs), t.Within, t.Unit)
	case least > 0 && below(t.covered, t.n, least):
		return fmt.Sprintf("%s: %d of %d intervals hold the truth", t.Name, t.covered, t.n)
	}
	return ""
}

// Head is the head of the table.
const Head = "| quantity | answers | none given | bias | 90th-percentile error | share right | coverage of 90 % interval | target |\n| --- | --- | --- | --- | --- | --- | --- | --- |"

// Confusion counts what was said (columns) for what is true (rows).
type Confusion struct {
	count map[[2]string]int
}

// Add counts one case.
func (c *Confusion) Add(truth, said string) {
	if c.count == nil {
		c.count = map[[2]string]int{}
	}
	c.count[[2]string{truth, said}]++
}

// Right is the share on the diagonal.
func (c *Confusion) Right() float64 {
	n, right := 0, 0
	for k, v := range c.count {
		n += v
		if k[0] == k[1] {
			right += v
		}
	}
	return float64(right) / float64(max(n, 1))
}

func (c *Confusion) String() string {
	var names []string
	for k := range c.count {
		for _, s := range k {
			if !slices.Contains(names, s) {
				names = append(names, s)
			}
		}
	}
	slices.Sort(names)
	b := &strings.Builder{}
	fmt.Fprintf(b, "| true \\ said | %s |\n| --- |%s\n", strings.Join(names, " | "), strings.Repeat(" --- |", len(names)))
	for _, truth := range names {
		row, n := []string{truth}, 0
		for _, said := range names {
			v := c.count[[2]string{truth, said}]
			n += v
			row = append(row, fmt.Sprint(v))
		}
		if n > 0 {
			fmt.Fprintf(b, "| %s |\n", strings.Join(row, " | "))
		}
	}
	return b.String()
}
