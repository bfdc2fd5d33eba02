package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	cv "soakline/testdata/checkvalues"
)

func ar1(n int, r float64, seed uint64) []float64 {
	rng := rand.New(rand.NewPCG(seed, 1))
	x, s := make([]float64, n), rng.NormFloat64()
	for i := range x {
		x[i] = s
		s = r*s + math.Sqrt(1-r*r)*rng.NormFloat64()
	}
	return x
}

// Newey-West standard errors of the mean of the Nile series, computed with the R package
// sandwich; autocorrelations by R.
func TestNeweyWestNile(t *testing.T) {
	y := cv.Column(cv.Read(t, "changepoint_series.csv"), "series", "Nile", "y")
	want := map[string]float64{}
	for _, r := range cv.Read(t, "changepoint_results.csv") {
		if r["series"] == "Nile" {
			want[r["quantity"]] = r.Num("value")
		}
	}
	for _, lag := range []int{0, 1, 3, 5, 10} {
		se := math.Sqrt(LongRunVariance(y, lag) / float64(len(y)))
		near(t, fmt.Sprint("se, lag ", lag), se, want[fmt.Sprint("NeweyWest_se_mean_lag", lag)], 1e-9)
	}
	for k := 1; k <= 3; k++ {
		near(t, fmt.Sprint("r", k), Autocorrelation(y, k), want[fmt.Sprint("acf_lag", k)], 1e-9)
	}
}

// The exact variance of a mean of AR(1) values (Bayley, Hammersley 1946), and that the
// three estimates of it from data come near.
func TestMeanOfAR1(t *testing.T) {
	for _, r := range cv.Read(t, "autocorr_quantisation.csv") {
		if r["kind"] == "ar1_mean" {
			near(t, "AR(1) mean variance", AR1MeanVariance(r.Num("param1"), int(r.Num("param2"))), r.Num("a"), 1e-8)
		}
	}
	for _, r := range []float64{0, 0.5, 0.9} {
		exact := math.Sqrt(AR1MeanVariance(r, 20000))
		var viaG, viaBatch, viaMean float64
		for seed := range uint64(20) {
			x := ar1(20000, r, seed)
			b, _ := BatchMeans(x)
			viaG += SD(x) * math.Sqrt(1/EffectiveN(x)) / 20
			viaBatch += b / 20
			viaMean += MeanOf(x, 0).SE / 20
		}
		near(t, fmt.Sprint("by correlation time, r ", r), viaG, exact, 0.08)
		near(t, fmt.Sprint("by blocking, r ", r), viaBatch, exact, 0.35) // the largest of noisy estimates
		if viaMean < exact*0.95 {
			t.Errorf("r %g: MeanOf is over-sure: %g of %g", r, viaMean, exact)
		}
	}
}

// Noise of known correlation, with and without ten steps of ten sd; and beaver2, a real
// temperature whose AR(1) coefficient is 0.873 (R, at the head of the file): the estimate
// from 100 coarse values may say more, never much less.
func TestStepNoiseIgnoresSteps(t *testing.T) {
	for _, r := range []float64{0, 0.5, 0.8, 0.9} {
		x := ar1(4000, r, 7)
		plain := StepNoise(x)
		near(t, "sd", plain.SD, 1, 0.12)
		if math.Abs(plain.R-r) > 0.08 {
			t.Errorf("r %g: got %g", r, plain.R)
		}
		for i := range x { // ten steps of ten sd
			x[i] += 10 * float64((i/400)%2)
		}
		if stepped := StepNoise(x); math.Abs(stepped.R-plain.R) > 0.05 {
			t.Errorf("r %g: steps move it from %g to %g", r, plain.R, stepped.R)
		}
	}
	rows := cv.Read(t, "temperature_switch.csv")
	if n := StepNoise(cv.Column(rows, "", "", "temp_c")); !(n.R > 0.6) {
		t.Errorf("beaver2: r %g, too small: the AR(1) fit says 0.873", n.R)
	}
}

// Rounding bias: exact summation and first harmonic (Widrow, Kollar 2008).
func TestQuantisation(t *testing.T) {
	for _, r := range cv.Read(t, "autocorr_quantisation.csv") {
		if r["kind"] == "quantised_mean" {
			near(t, "bias at s "+r["param1"], QuantisationBias(r.Num("param1")), r.Num("b"), 2e-3)
		}
	}
	near(t, "a reading that never moves", QuantisationSE(0, 1), 1/math.Sqrt(12), 2e-3)
	if se := QuantisationSE(math.Sqrt(0.25+1.0/12), 1); se > 0.003 { // s = 0.5 q dithers
		t.Errorf("dithered: %g", se)
	}
	x := ar1(3000, 0, 3)
	for i := range x {
		x[i] = 60.3 + 0.7*x[i]
	}
	if q := Resolution(x); q != 0 {
		t.Errorf("continuous readings: step %g", q)
	}
	for i := range x {
		x[i] = math.Round(x[i]/0.125) * 0.125
	}
	near(t, "learned step", Resolution(x), 0.125, 1e-9)
}

// The bootstrap error of the mean of AR(1) values comes near the exact one, and equal
// seeds give equal draws.
func TestStationaryBootstrap(t *testing.T) {
	x := ar1(2000, 0.8, 11)
	a := StationaryBootstrap(x, 60, 400, 5, Mean)
	b := StationaryBootstrap(x, 60, 400, 5, Mean)
	for i := range a {
		if a[i] != b[i] {
			t.Fatal("equal seeds gave different draws")
		}
	}
	near(t, "bootstrap se", SD(a), SD(x)*math.Sqrt(AR1MeanVariance(0.8, 2000)), 0.25)
}
