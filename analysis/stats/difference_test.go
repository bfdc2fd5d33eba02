package stats

import (
	"testing"

	cv "soakline/testdata/checkvalues"
)

// Student's sleep data; results by R 4.2.2 t.test, t, nu and p as its documentation
// prints them (-1.8608, 17.776, 0.07939).
func TestWelchAndPairedSleep(t *testing.T) {
	rows := cv.Read(t, "two_sample.csv")
	a, b := cv.Column(rows, "group", "1", "extra_hours"), cv.Column(rows, "group", "2", "extra_hours")
	w := Welch(a, b)
	near(t, "t", w.T, -1.86081346749, 1e-10)
	near(t, "nu", w.DF, 17.77647351618, 1e-10)
	near(t, "p", w.P, 0.07939414019, 1e-8)
	low, high := w.Interval(0.95)
	near(t, "low", low, -3.36548323071, 1e-8)
	near(t, "high", high, 0.20548323071, 1e-7)
	p := Paired(a, b)
	near(t, "paired t", p.T, -4.062127683382, 1e-10)
	near(t, "paired p", p.P, 0.002832890197, 1e-8)
	low, high = p.Interval(0.95)
	near(t, "paired low", low, -2.459885763277, 1e-8)
	near(t, "paired high", high, -0.700114236723, 1e-8)
}

// Runs needed: Cohen 1988 and the R documentation of power.t.test (22.02110).
func TestRunsNeeded(t *testing.T) {
	for _, r := range cv.Read(t, "autocorr_quantisation.csv") {
		if r["kind"] == "power_n" {
			near(t, "runs for d "+r["param1"], RunsNeeded(r.Num("param1"), r.Num("param2"), 0.05), r.Num("b"), 2e-3)
		}
	}
	near(t, "as R documents", RunsNeeded(1, 0.9, 0.05), 22.02110, 1e-6)
}

// Three against three cannot go below 2 of 20 by permutation.
func TestPermutation(t *testing.T) {
	near(t, "apart", Permutation([]float64{1, 2, 3}, []float64{11, 12, 13}), 0.1, 1e-12)
	near(t, "alike", Permutation([]float64{1, 2}, []float64{1, 2}), 1, 1e-12)
}
