package stats

import (
	"math"
	"testing"

	cv "soakline/testdata/checkvalues"
)

// near fails unless got agrees with want to rel, relative to the larger of |want| and 1e-300.
func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Max(math.Abs(want), 1e-300)) {
		t.Errorf("%s: got %.15g, want %.15g (rel %.2g)", what, got, want, math.Abs(got-want)/math.Abs(want))
	}
}

// NIST Statistical Reference Datasets, univariate summary statistics.
func TestUnivariateNIST(t *testing.T) {
	data := cv.Read(t, "nist_univariate_data.csv")
	for _, r := range cv.Read(t, "nist_univariate_certified.csv") {
		name := r["dataset"]
		y := cv.Column(data, "dataset", name, "y")
		if len(y) == 0 { // NumAcc3 and 4 are given by rule
			m := r.Num("mean")
			y = []float64{m}
			for range 500 {
				y = append(y, m-0.1, m+0.1)
			}
		}
		if len(y) != int(r.Num("n")) {
			t.Fatalf("%s: %d values, want %s", name, len(y), r["n"])
		}
		sdTol := 1e-12
		if name == "NumAcc3" || name == "NumAcc4" {
			sdTol = 1e-7 // the data themselves cannot be held closer in binary
		}
		near(t, name+" mean", Mean(y), r.Num("mean"), 1e-14)
		near(t, name+" sd", SD(y), r.Num("sd"), sdTol)
		near(t, name+" r1", Lag1(y), r.Num("r1"), math.Max(sdTol, 1e-12))
	}
}

// NIST StRD Norris: certified values stand at the head of the file.
func TestLineNorris(t *testing.T) {
	rows := cv.Read(t, "nist_norris.csv")
	l := FitLine(cv.Column(rows, "", "", "x"), cv.Column(rows, "", "", "y"))
	near(t, "B0", l.B0, -0.262323073774029, 1e-10)
	near(t, "sd B0", l.SE0, 0.232818234301152, 1e-10)
	near(t, "B1", l.B1, 1.00211681802045, 1e-13)
	near(t, "sd B1", l.SE1, 0.429796848199937e-03, 1e-10)
	near(t, "sd", l.SD, 0.884796396144373, 1e-10)
	near(t, "R2", l.R2, 0.999993745883712, 1e-13)
	near(t, "df", l.DF, 34, 0)
}

// NIST StRD SiRstv and AtmWtAg: certified values stand at the head of the file.
func TestOneWayNIST(t *testing.T) {
	want := map[string]Anova{
		"SiRstv": {BetweenDF: 4, BetweenSS: 5.11462616e-2, WithinDF: 20, WithinSS: 2.1663656e-1,
			F: 1.18046237440255, R2: 1.90999039051129e-1, ResidualSD: 1.04076068334656e-1},
		"AtmWtAg": {BetweenDF: 1, BetweenSS: 3.638341875e-9, WithinDF: 46, WithinSS: 1.04951729166667e-8,
			F: 15.9467335677930, R2: 2.57426544538321e-1, ResidualSD: 1.51048314446410e-5},
	}
	rows := cv.Read(t, "nist_anova.csv")
	for name, w := range want {
		groups := map[string][]float64{}
		for _, r := range rows {
			if r["dataset"] == name {
				groups[r["group"]] = append(groups[r["group"]], r.Num("y"))
			}
		}
		var list [][]float64
		for _, g := range groups {
			list = append(list, g)
		}
		a := OneWay(list)
		tol := 1e-8 // AtmWtAg: seven constant leading digits
		near(t, name+" between", a.BetweenSS, w.BetweenSS, tol)
		near(t, name+" within", a.WithinSS, w.WithinSS, tol)
		near(t, name+" F", a.F, w.F, tol)
		near(t, name+" R2", a.R2, w.R2, tol)
		near(t, name+" sd", a.ResidualSD, w.ResidualSD, tol)
		near(t, name+" df", a.BetweenDF*1000+a.WithinDF, w.BetweenDF*1000+w.WithinDF, 0)
	}
}

func TestBadDataGivesNaN(t *testing.T) {
	nan := math.NaN()
	for what, v := range map[string]float64{
		"mean of nothing": Mean(nil), "sd of one": SD([]float64{1}), "lag-1 of a constant": Lag1([]float64{2, 2, 2}),
		"quantile of nothing": Quantile([]float64{nan}, 0.5), "line through one point": FitLine([]float64{1}, []float64{1}).B1,
		"line without spread": FitLine([]float64{1, 1, 1}, []float64{1, 2, 3}).B1, "welch of one a side": Welch([]float64{1}, []float64{2}).P,
		"paired of unlike lengths": Paired([]float64{1, 2}, []float64{1}).P, "t of no freedom": TQuantile(0.9, 0),
		"anova of one group": OneWay([][]float64{{1, 2, 3}}).F, "runs for no difference": RunsNeeded(0, 0.8, 0.05),
		"step noise of a held value": StepNoise([]float64{5, 5, 5, 5}).R, "correlation of a constant": CorrelationTime([]float64{1, 1, 1, 1}),
		"effect of one run": Detectable(1, 0.8, 0.05), "normal quantile": NormalQuantile(2),
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s: got %g, want NaN", what, v)
		}
	}
}
