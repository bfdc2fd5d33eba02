package changepoint

import (
	"math"

	"soakline/analysis/stats"
)

// Segment is a stretch y[Start:End] of one level.
type Segment struct {
	Start, End int
	Mean, SE   float64
}

// Options steers Segments. The zero Options is usable.
type Options struct {
	// MinJump is the smallest change of level that counts, in the unit of y; 0 leaves it
	// to the noise.
	MinJump float64
	// MinShare is the smallest change that counts as a share of the higher of two levels
	// (0.05 for a power); 0 leaves it to the noise.
	MinShare float64
	// Shortest is how many values an outlying stretch must last to count as a segment,
	// however far out it lies; 0 takes 5.
	Shortest int
	// Noise is that of the series; the zero Noise has it estimated from differences.
	Noise stats.Noise
}

// Segments divides an autocorrelated series into stretches of one level by Search with
// the penalty 3 s^2 ln n, s^2 the long-run variance of AR(1) noise, and the biweight bound
// k^2 = 2 penalty/Shortest, at which a stretch of fewer values can never pay for its two
// changes. Each change is then placed by the two levels beside it.
//
// False changes in 600 values of pure AR(1) noise of r 0, 0.5, 0.8, 0.9 (50 series each):
// 0, 0.06, 0.06, 0.56 a series. Averaging over blocks of two correlation times first found
// 1.4 at r 0.8 and lost bursts of two blocks, which at r 0.9 and 10 Hz is a burst of 8 s.
func Segments(y []float64, o Options) []Segment {
	if len(y) == 0 {
		return nil
	}
	noise := o.Noise
	if noise == (stats.Noise{}) {
		noise = EstimateNoise(y)
	}
	if o.Shortest <= 0 {
		o.Shortest = 5
	}
	long := noise.LongRunVariance()
	if !(long > 0) {
		long = 1e-18 * (1 + y[0]*y[0])
	}
	penalty := 3 * long * math.Log(float64(max(len(y), 3)))
	changes := Search(y, penalty, math.Sqrt(2*penalty/float64(o.Shortest)))
	changes = dropSmall(y, changes, o)
	reach := int(math.Ceil(2 * noise.CorrelationTime()))
	for i := range changes {
		changes[i] = place(y, changes, i, max(reach, 3))
	}
	return describe(y, dropSmall(y, changes, o), noise)
}

// EstimateNoise is stats.StepNoise, made to work on held readings: it looks at one value
// a hold, and takes the rounding noise q/sqrt(12) for readings that hardly move.
func EstimateNoise(y []float64) stats.Noise {
	moves, least, scale := 1, math.Inf(1), 0.0
	for i := 1; i < len(y); i++ {
		if d := math.Abs(y[i] - y[i-1]); d > 0 {
			moves++
			least = min(least, d)
		}
		scale = max(scale, math.Abs(y[i]))
	}
	hold := int(math.Round(float64(len(y)) / float64(moves)))
	if hold <= 1 {
		if n := stats.StepNoise(y); n.SD > 0 {
			return n
		}
		hold = 2
	}
	var thin []float64
	for i := hold / 2; i < len(y); i += hold {
		thin = append(thin, y[i])
	}
	if n := stats.StepNoise(thin); n.SD > 0 {
		g := n.CorrelationTime() * float64(hold)
		return stats.Noise{SD: n.SD, R: (g - 1) / (g + 1)}
	}
	if math.IsInf(least, 1) {
		least = 1e-9 * (1 + scale)
	}
	return stats.Noise{SD: least / math.Sqrt(12), R: 0}
}

// level is a robust middle of a stretch, by a sample of it where it is long.
func level(y []float64) float64 {
	if step := len(y) / 2000; step > 1 {
		var s []float64
		for i := 0; i < len(y); i += step {
			s = append(s, y[i])
		}
		return stats.Median(s)
	}
	return stats.Median(y)
}

// dropSmall removes the smallest change again and again until every jump is large enough.
func dropSmall(y []float64, changes []int, o Options) []int {
	if o.MinJump <= 0 && o.MinShare <= 0 {
		return changes
	}
	for len(changes) > 0 {
		worst, least := -1, 1.0
		before := level(y[:changes[0]])
		for i, c := range changes {
			end := len(y)
			if i+1 < len(changes) {
				end = changes[i+1]
			}
			after := level(y[c:end])
			need := max(o.MinJump, o.MinShare*max(math.Abs(before), math.Abs(after)))
			if j := math.Abs(after-before) / need; j < least {
				worst, least = i, j
			}
			before = after
		}
		if worst < 0 {
			return changes
		}
		changes = append(changes[:worst:worst], changes[worst+1:]...)
	}
	return changes
}

// place moves a change to where the values near it are best divided between the two
// levels; each value's cost is bounded at half the jump, so that one outlier cannot pull.
func place(y []float64, changes []int, i, reach int) int {
	start, end := 0, len(y)
	if i > 0 {
		start = changes[i-1]
	}
	if i+1 < len(changes) {
		end = changes[i+1]
	}
	c := changes[i]
	lo, hi := max(start+1, c-reach), min(end-1, c+reach)
	before, after := level(y[start:max(c-reach/2, start+1)]), level(y[min(c+reach/2, end-1):end])
	bound := (after - before) * (after - before) / 4
	cost := func(v, m float64) float64 { return min((v-m)*(v-m), bound) }
	best, at, sum := 0.0, lo, 0.0
	for k := lo; k < hi; k++ { // moving value k to the old regime
		sum += cost(y[k], before) - cost(y[k], after)
		if sum < best {
			best, at = sum, k+1
		}
	}
	return at
}

func describe(y []float64, changes []int, noise stats.Noise) []Segment {
	out := make([]Segment, 0, len(changes)+1)
	start := 0
	for i := 0; i <= len(changes); i++ {
		end := len(y)
		if i < len(changes) {
			end = changes[i]
		}
		n := float64(end - start)
		out = append(out, Segment{start, end, stats.Mean(y[start:end]), math.Sqrt(noise.LongRunVariance() / n)})
		start = end
	}
	return out
}
