package stats

import "math/rand/v2"

// StationaryBootstrap gives n values of a statistic over resamples of a stationary,
// autocorrelated series: blocks of geometric length with this mean, wrapped at the end
// (Politis, Romano 1994, J. Am. Stat. Assoc. 89:1303). Equal seeds give equal values.
func StationaryBootstrap(x []float64, meanBlock float64, n int, seed uint64, statistic func([]float64) float64) []float64 {
	if len(x) == 0 || n < 1 {
		return nil
	}
	rng := rand.New(rand.NewPCG(seed, 0x5eed))
	restart := 1 / max(meanBlock, 1)
	out, y := make([]float64, n), make([]float64, len(x))
	for k := range out {
		i := 0
		for j := range y {
			if j == 0 || rng.Float64() < restart {
				i = rng.IntN(len(x))
			} else {
				i = (i + 1) % len(x)
			}
			y[j] = x[i]
		}
		out[k] = statistic(y)
	}
	return out
}
