package changepoint

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
	"soakline/analysis/stats"
)

// bruteForce minimises the penalised biweight cost by trying every last change, each
// segment's cost by trying every mean where a bound becomes active.
func bruteForce(y []float64, penalty, k float64) float64 {
	best := make([]float64, len(y)+1)
	best[0] = -penalty
	for t := 1; t <= len(y); t++ {
		best[t] = math.Inf(1)
		for s := 0; s < t; s++ {
			best[t] = min(best[t], best[s]+penalty+biweight(y[s:t], k))
		}
	}
	return best[len(y)]
}

// biweight is min over m of sum min((y-m)^2, k^2): the minimum is at the mean of the
// values inside one window of width 2k.
func biweight(y []float64, k float64) float64 {
	s := slices.Clone(y)
	slices.Sort(s)
	best := math.Inf(1)
	for i := range s {
		for j := i; j < len(s); j++ {
			m, c := stats.Mean(s[i:j+1]), 0.0
			for _, v := range s {
				c += min((v-m)*(v-m), k*k)
			}
			best = min(best, c)
		}
	}
	return best
}

func costOf(y []float64, changes []int, penalty, k float64) float64 {
	c, start := penalty*float64(len(changes)), 0
	for _, end := range append(slices.Clone(changes), len(y)) {
		c += biweight(y[start:end], k)
		start = end
	}
	return c
}

func TestSearchIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SliceOfN(rapid.Float64Range(-8, 8), 2, 22).Draw(t, "y")
		penalty := rapid.Float64Range(0.5, 30).Draw(t, "penalty")
		k := rapid.SampledFrom([]float64{1.5, 3, math.Inf(1)}).Draw(t, "k")
		got, want := costOf(y, Search(y, penalty, k), penalty, k), bruteForce(y, penalty, k)
		if math.Abs(got-want) > 1e-6*(1+want) {
			t.Fatalf("cost %g, the least is %g", got, want)
		}
	})
}

// By squares and without a bound on the length of a segment Search must agree with the
// dynamic programme on the published series.
func TestSearchAgainstOptimal(t *testing.T) {
	for _, name := range []string{"Nile", "RealInt"} {
		y := series(t, name)
		for _, m := range []int{1, 2, 4} {
			ps := Optimal(y, 8, 1)
			// A penalty under which m changes are best, if there is one.
			hi, lo := ps[m-1].RSS-ps[m].RSS, ps[m].RSS-ps[m+1].RSS
			if hi <= lo {
				continue
			}
			if got := Search(y, (hi+lo)/2, math.Inf(1)); costOf(y, got, (hi+lo)/2, 1e300) > ps[m].RSS+float64(m)*(hi+lo)/2+1e-6 {
				t.Errorf("%s: %v, the programme finds %v", name, got, ps[m].Changes)
			}
		}
	}
}

func arNoise(n int, r float64, rng *rand.Rand) []float64 {
	x, s := make([]float64, n), rng.NormFloat64()
	for i := range x {
		x[i] = s
		s = r*s + math.Sqrt(1-r*r)*rng.NormFloat64()
	}
	return x
}

// A power burst: 5 W, 64 W, 28 W, correlated noise, a drop-out and single outliers. Both
// changes must be placed within two samples and nothing else called a change.
func TestSegmentsOfABurst(t *testing.T) {
	for _, r := range []float64{0, 0.5, 0.9} {
		rng := rand.New(rand.NewPCG(uint64(r*10), 3))
		wrong := 0
		for range 40 {
			y := arNoise(3000, r, rng)
			for i := range y {
				level := 28.0
				if i < 300 {
					level = 5
				} else if i < 379 {
					level = 64
				}
				y[i] = level * (1 + 0.015*y[i])
			}
			for range 12 {
				y[rng.IntN(len(y))] = 0
			}
			got := Segments(y, Options{MinShare: 0.05})
			if len(got) != 3 || abs(got[1].Start-300) > 2 || abs(got[1].End-379) > 2 {
				wrong++
			}
		}
		if wrong > 2 {
			t.Errorf("r %g: %d of 40 wrong", r, wrong)
		}
	}
}

func abs(i int) int { return max(i, -i) }

// Pure autocorrelated noise must hardly ever be called a change; with the plain penalty
// and the deviation that differences show, tens of changes are found.
func TestSegmentsOfNoise(t *testing.T) {
	for _, r := range []float64{0, 0.5, 0.8, 0.9} {
		rng := rand.New(rand.NewPCG(1, uint64(r*10)))
		plain, found := 0, 0
		for range 50 {
			y := arNoise(600, r, rng)
			plain += len(Search(y, 2*(1-r)*math.Log(600), math.Inf(1)))
			found += len(Segments(y, Options{})) - 1
		}
		t.Logf("r %g: plain penalty %.1f changes a series, here %.2f", r, float64(plain)/50, float64(found)/50)
		if r >= 0.8 && plain < 50*20 || found > 30 {
			t.Errorf("r %g: plain penalty %.1f a series, here %.2f", r, float64(plain)/50, float64(found)/50)
		}
	}
}

// A whole-degree sensor read ten times a second and renewed once: holds are not steadiness.
func TestHeldReadings(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	slow := arNoise(300, 0.5, rng)
	var y []float64
	for i, v := range slow {
		level := 40.0
		if i >= 150 {
			level = 46
		}
		for range 10 {
			y = append(y, math.Round(level+0.8*v))
		}
	}
	got := Segments(y, Options{MinJump: 2})
	if len(got) != 2 || abs(got[1].Start-1500) > 10 {
		t.Errorf("got %+v, want one change at 1500", got)
	}
}

func TestTooLittle(t *testing.T) {
	if Search(nil, 1, 1) != nil || Search([]float64{1}, 1, 1) != nil || Segments(nil, Options{}) != nil || Optimal(nil, 1, 1) != nil {
		t.Error("nothing must give nothing")
	}
	if s := Segments([]float64{3, 3, 3, 3, 3, 3}, Options{}); len(s) != 1 || s[0].Mean != 3 {
		t.Errorf("a constant: %+v", s)
	}
}

func benchmarkSegments(b *testing.B, n int) {
	rng := rand.New(rand.NewPCG(9, 9))
	y := arNoise(n, 0.5, rng)
	for i := range y {
		y[i] = 40 + y[i] + 20*float64((i/9000)%2)
	}
	for b.Loop() {
		Segments(y, Options{MinJump: 2})
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/value")
}

func BenchmarkSegments1h(b *testing.B)  { benchmarkSegments(b, 36_000) }
func BenchmarkSegments6h(b *testing.B)  { benchmarkSegments(b, 216_000) }
func BenchmarkSegments24h(b *testing.B) { benchmarkSegments(b, 864_000) }

// BenchmarkSearchFlat is the hard case of other prunings: nothing ever changes.
func BenchmarkSearchFlat(b *testing.B) {
	y := arNoise(100_000, 0, rand.New(rand.NewPCG(9, 1)))
	for b.Loop() {
		Search(y, 2*math.Log(1e5), 3)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/1e5, "ns/value")
}
