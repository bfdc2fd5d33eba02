package ladder

import (
	"math"
	"math/rand/v2"
	"testing"

	"soakline/analysis/stats"
	cv "soakline/testdata/checkvalues"
)

// at gives values places.
func at(v []float64, place func(i int) int) []sample {
	out := make([]sample, len(v))
	for i := range v {
		out[i] = sample{v[i], place(i)}
	}
	return out
}

func exps(x []float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = math.Exp(x[i])
	}
	return out
}

// in a row: A A A B B B. In turn: A B B A A B.
func aRow(i int) int           { return i }
func bRow(n int) func(int) int { return func(i int) int { return n + i } }
func aTurn(i int) int          { return 2*i + i%2 }
func bTurn(i int) int          { return 2*i + 1 - i%2 }

// Student 1908 (Biometrika 6:1), the sleep data, as exponents since changes are judged on
// logarithms: Welch's test leaves the question open (t = -1.8608, df = 17.776, interval of
// the difference -0.20548 to 3.36548), pair by pair it is decided (0.70011 to 2.45989).
// Figures from two_sample.csv.
func TestSleep(t *testing.T) {
	rows := cv.Read(t, "two_sample.csv")
	one, two := exps(cv.Column(rows, "group", "1", "extra_hours")), exps(cv.Column(rows, "group", "2", "extra_hours"))
	for _, c := range []struct {
		name      string
		a, b      []sample
		low, high float64
		real      bool
	}{
		{"one after the other", at(one, aRow), at(two, bRow(10)), -0.20548323071, 3.36548323071, false},
		{"in turn", at(one, aTurn), at(two, bTurn), 0.700114236723, 2.459885763277, true},
	} {
		m := change("sleep", "h", c.a, c.b)
		low, high := math.Log1p(float64(m.LowPct)/100), math.Log1p(float64(m.HighPct)/100)
		if math.Abs(low-c.low) > 1e-9 || math.Abs(high-c.high) > 1e-9 || *m.Real != c.real {
			t.Errorf("%s: %.9f to %.9f, real %v; want %.9f to %.9f, %v", c.name, low, high, *m.Real, c.low, c.high, c.real)
		}
	}
}

func TestInTurn(t *testing.T) {
	s := func(places ...int) []sample {
		return at(make([]float64, len(places)), func(i int) int { return places[i] })
	}
	for _, c := range []struct {
		a, b []sample
		want bool
	}{
		{s(0, 3), s(1, 2), true}, {s(0, 2, 4), s(1, 3, 5), true}, {s(0, 4), s(2, 3), true},
		{s(0, 1), s(2, 3), false}, {s(0, 1, 4), s(2, 3, 5), false}, {s(0), s(1, 2), false},
	} {
		if got := inTurn(c.a, c.b); got != c.want {
			t.Errorf("%v %v: %v", c.a, c.b, got)
		}
	}
}

// A machine for the simulations: a run's figure is the mean of 120 values with
// autocorrelated noise, about a level that differs from run to run.
const (
	runSD   = 0.01 // from run to run
	noiseSD = 0.03 // within a run
	noiseR  = 0.9
	values0 = 120
)

// total is the standard deviation of a run's figure, by the exact variance of an AR(1) mean.
func total() float64 {
	return math.Sqrt(runSD*runSD + noiseSD*noiseSD*stats.AR1MeanVariance(noiseR, values0))
}

func figureOfRun(rng *rand.Rand, level float64) float64 {
	x := rng.NormFloat64() * noiseSD
	sum := 0.0
	for range values0 {
		sum += x
		x = noiseR*x + math.Sqrt(1-noiseR*noiseR)*noiseSD*rng.NormFloat64()
	}
	return 1000 * math.Exp(level+runSD*rng.NormFloat64()+sum/values0)
}

// shown is how often a change is called real.
func shown(t *testing.T, n, trials int, effect float64, turn bool, drift func(rng *rand.Rand, n int) []float64) float64 {
	rng := rand.New(rand.NewPCG(uint64(n), math.Float64bits(effect)))
	hits := 0
	for k := range trials {
		pa, pb := aRow, bRow(n)
		if turn {
			pa, pb = aTurn, bTurn
		}
		room := drift(rng, 2*n)
		a, b := make([]float64, n), make([]float64, n)
		for i := range n {
			a[i], b[i] = figureOfRun(rng, room[pa(i)]), figureOfRun(rng, room[pb(i)]+math.Log1p(effect))
		}
		real := decided(at(a, pa), at(b, pb))
		if real {
			hits++
		}
		if k < 10 && *change("score", "points", at(a, pa), at(b, pb)).Real != real {
			t.Fatal("change and its test do not agree")
		}
	}
	return float64(hits) / float64(trials)
}

// decided is the test alone by which change decides: the runs that it would need are
// costly to work out. shown holds both against each other.
func decided(a, b []sample) bool {
	logs := func(s []sample) []float64 {
		x := values(s)
		for i := range x {
			x[i] = math.Log(x[i])
		}
		return x
	}
	if len(a) >= fewestPairs && inTurn(a, b) {
		return stats.Paired(logs(b), logs(a)).P < 0.05
	}
	return stats.Welch(logs(b), logs(a)).P < 0.05
}

func still(_ *rand.Rand, n int) []float64 { return make([]float64, n) }

// warming is a room that warms evenly: 1 % of the figure from run to run.
func warming(_ *rand.Rand, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = -0.01 * float64(i)
	}
	return out
}

// TestFalseAlarms: with nothing changed, about one comparison in twenty is called real;
// Welch's test of three runs a side is known to stay a little below its level.
func TestFalseAlarms(t *testing.T) {
	const trials = 1500
	for _, n := range []int{3, 5, 10} {
		for _, turn := range []bool{false, true} {
			got := shown(t, n, trials, 0, turn, still)
			t.Logf("n %d, in turn %v: %.3f", n, turn, got)
			if got < 0.025 || got > 0.068 { // three sd of a binomial about 0.05, and Welch's shortfall
				t.Errorf("n %d, in turn %v: false alarms %.3f", n, turn, got)
			}
		}
	}
}

// TestPower: changes of 1, 2 and 5 % are seen as often as the design says (Cohen 1988, by
// stats.Power; Welch's test of so few runs has up to 6 points less than the pooled one).
func TestPower(t *testing.T) {
	const trials = 800
	for _, n := range []int{3, 5, 10} {
		for _, effect := range []float64{0.01, 0.02, 0.05} {
			got, want := shown(t, n, trials, effect, false, still), stats.Power(float64(n), math.Log1p(effect)/total(), 0.05)
			t.Logf("n %d, %+.0f %%: %.3f, designed %.3f", n, 100*effect, got, want)
			if got > want+0.05 || got < want-0.10 {
				t.Errorf("n %d, change %.2f: seen %.3f, designed %.3f", n, effect, got, want)
			}
		}
	}
}

// TestWarmingRoom: one setup after the other in a room that warms looks like a change; in
// turn (A B B A) the false alarms stay at their level.
func TestWarmingRoom(t *testing.T) {
	const trials = 600
	row, turn := shown(t, 6, trials, 0, false, warming), shown(t, 6, trials, 0, true, warming)
	if row < 0.5 || turn > 0.07 {
		t.Errorf("false alarms %.3f one after the other, %.3f in turn", row, turn)
	}
}

// TestDrift: a slope within the setups is found and put in numbers; without one the p value
// is below 5 % about one time in twenty. A change between the setups is no drift.
func TestDrift(t *testing.T) {
	f := figure{name: "score"}
	rng := rand.New(rand.NewPCG(3, 4))
	series := func(slope float64) [][]sample {
		g := make([][]sample, 2)
		for place := range 10 {
			k := (place + 1) / 2 % 2 // A B B A A B B A A B
			g[k] = append(g[k], sample{1000 * math.Exp(slope*float64(place)+0.3*float64(k)+0.01*rng.NormFloat64()), place})
		}
		return g
	}
	alarms, inside := 0, 0
	for i := range 300 {
		d, ok := driftOf(f, series(0), uint64(i))
		if !ok {
			t.Fatal(d.Say)
		}
		if *d.Real {
			alarms++
		}
		if d, _ = driftOf(f, series(0.01), uint64(i)); math.Abs(float64(d.PctPerRun)-1.005) < 0.4 && *d.Real {
			inside++
		}
	}
	if alarms < 5 || alarms > 26 { // 15 expected, sd 3.8
		t.Errorf("%d false alarms of 300", alarms)
	}
	if inside < 285 {
		t.Errorf("a drift of 1 %% a run found %d times of 300", inside)
	}
	if d, ok := driftOf(f, [][]sample{{{1, 0}}, {{2, 1}}, {{3, 2}}}, 1); ok || d.Real != nil {
		t.Errorf("single runs show no drift: %+v", d)
	}
}

// TestWithin: nine of ten intervals of the median hold the truth, under an AR(1) of which
// an independent bootstrap would hold about half; the effective number is that of theory,
// n (1-r)/(1+r).
func TestWithin(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	const n, r, trials = 1500, 0.8, 60
	hits, eff := 0, 0.0
	for k := range trials {
		x, v := make([]float64, n), rng.NormFloat64()
		for i := range x {
			x[i] = 3000 + 20*v
			v = r*v + math.Sqrt(1-r*r)*rng.NormFloat64()
		}
		w := spread(x, uint64(k))
		if w.MedianLow <= 3000 && 3000 <= w.MedianHigh {
			hits++
		}
		eff += float64(w.EffectiveN) / trials
		if !(w.Low1Low <= w.Low1High && w.Low1High < w.MedianLow) {
			t.Fatalf("%+v", w)
		}
	}
	if hits < 47 { // 54 expected, sd 2.3
		t.Errorf("%d of %d intervals hold the median", hits, trials)
	}
	if want := n * (1 - r) / (1 + r); math.Abs(eff/want-1) > 0.25 {
		t.Errorf("effective n %.0f, by theory %.0f", eff, want)
	}
	if w := spread([]float64{5, 5, 5, 5, 5, 5}, 1); w.Median != 5 || w.MedianLow != 5 || w.Low1High != 5 || w.EffectiveN.Known() {
		t.Errorf("a constant: %+v", w)
	}
}
