package changepoint

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"soakline/analysis/stats"
	cv "soakline/testdata/checkvalues"
)

func series(t testing.TB, name string) []float64 {
	return cv.Column(cv.Read(t, "changepoint_series.csv"), "series", name, "y")
}

// Nile and RealInt by the R package strucchange: breaks published by Bai, Perron 2003 and
// Zeileis et al. 2003, sums of squares and BIC for 0 to 5 breaks.
func TestOptimalAgainstStrucchange(t *testing.T) {
	for name, shortest := range map[string]int{"Nile": 15, "RealInt": 15} {
		got := Optimal(series(t, name), 5, shortest)
		for _, r := range cv.Read(t, "changepoint_results.csv") {
			if r["series"] != name || r["level"] != "" || r["breaks"] == "" {
				continue
			}
			m, _ := strconv.Atoi(r["breaks"])
			var v float64
			switch r["quantity"] {
			case "RSS":
				v = got[m].RSS
			case "BIC":
				v = got[m].BIC
			case "break_index":
				var want []int
				for _, f := range strings.Fields(r["value"]) {
					i, _ := strconv.Atoi(f)
					want = append(want, i)
				}
				if !slices.Equal(got[m].Changes, want) {
					t.Errorf("%s, %d breaks: got %v, want %v", name, m, got[m].Changes, want)
				}
				continue
			default:
				continue
			}
			if math.Abs(v/r.Num("value")-1) > 1e-9 {
				t.Errorf("%s, %d breaks, %s: got %.12g, want %s", name, m, r["quantity"], v, r["value"])
			}
		}
	}
	if b := Best(Optimal(series(t, "Nile"), 5, 15)).Changes; !slices.Equal(b, []int{28}) { // 1898 is the last year of the old regime
		t.Errorf("Nile by BIC: %v", b)
	}
	if b := Best(Optimal(series(t, "RealInt"), 5, 15)).Changes; !slices.Equal(b, []int{47, 79}) { // 1972(3), 1980(3)
		t.Errorf("RealInt by BIC: %v", b)
	}
}

// The published interval of the Nile break: 1895 to 1902 at 95 % (25 to 32), 26 to 31 at 90 %.
func TestIntervalNile(t *testing.T) {
	y := series(t, "Nile")
	v := func(x []float64) float64 { n := float64(len(x)); return stats.Variance(x) * (n - 1) / n }
	s := Shift{Jump: stats.Mean(y[28:]) - stats.Mean(y[:28]), Before: v(y[:28]), After: v(y[28:])}
	for _, r := range cv.Read(t, "changepoint_results.csv") {
		if r["series"] == "Nile" && r["quantity"] == "break_index" && r["level"] != "" {
			b, a := s.Interval(r.Num("level"))
			if 28-b != r.Num("low") || 28+a != r.Num("high") {
				t.Errorf("level %s: %g to %g, want %s to %s", r["level"], 28-b, 28+a, r["low"], r["high"])
			}
		}
	}
}

// Yao's closed form for equal variances; and that the distribution is one for others.
func TestArgmaxDistribution(t *testing.T) {
	for _, x := range []float64{0.1, 1, 5, 11.03, 30} {
		r := math.Sqrt(x)
		yao := 1 + r*math.Exp(-x/8)/math.Sqrt(2*math.Pi) - (x+5)/2*stats.NormalCDF(-r/2) + 1.5*math.Exp(x)*stats.NormalCDF(-1.5*r)
		if d := argmaxCDF(x, 1) - yao; math.Abs(d) > 1e-12 {
			t.Errorf("x %g: off by %g", x, d)
		}
		if d := argmaxCDF(x, 1) + argmaxCDF(-x, 1) - 1; math.Abs(d) > 1e-12 {
			t.Errorf("x %g: not symmetric by %g", x, d)
		}
	}
	for _, ratio := range []float64{0.05, 0.4, 3, 20} {
		last := 0.0
		for x := -200.0; x <= 200; x += 0.5 {
			v := argmaxCDF(x, ratio)
			if v < last-1e-9 || v > 1+1e-9 {
				t.Fatalf("ratio %g: not a distribution at %g: %g after %g", ratio, x, v, last)
			}
			last = v
		}
	}
}

// The intervals of the two breaks of RealInt: those of the R package use a HAC variance
// with AR(1) prewhitening; the long-run variance of an AR(1) in each regime is the same
// idea in its plainest form, and must give the same quarters.
func TestIntervalRealInt(t *testing.T) {
	y := series(t, "RealInt")
	bounds := []int{0, 47, 79, len(y)}
	var mean, long [3]float64
	for i := range mean {
		x := y[bounds[i]:bounds[i+1]]
		mean[i] = stats.Mean(x)
		long[i] = stats.Noise{SD: stats.SD(x), R: stats.Lag1(x)}.LongRunVariance()
	}
	for _, r := range cv.Read(t, "changepoint_results.csv") {
		i := map[string]int{"break_index_first": 0, "break_index_second": 1}[r["quantity"]]
		if r["series"] != "RealInt" || r["level"] == "" {
			continue
		}
		b, a := Shift{mean[i+1] - mean[i], long[i], long[i+1]}.Interval(r.Num("level"))
		at := float64(bounds[i+1])
		if at-b != r.Num("low") || at+a != r.Num("high") {
			t.Errorf("%s at %s: %g to %g, want %s to %s", r["quantity"], r["level"], at-b, at+a, r["low"], r["high"])
		}
	}
}
