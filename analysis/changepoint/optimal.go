package changepoint

import "math"

// Partition is the best division into a given number of segments.
type Partition struct {
	Changes []int
	RSS     float64
	BIC     float64 // n (ln(RSS/n) + 1 + ln 2 pi) + 2 (m+1) ln n for m changes
}

// Optimal gives the best partitions with 0 to most changes and segments of at least
// shortest values, by dynamic programming over all of them (Bai, Perron 2003, J. Appl.
// Econometrics 18:1). Its cost is quadratic in the length: it is the check of Search and
// the tool for short series, not for traces.
func Optimal(y []float64, most, shortest int) []Partition {
	n := len(y)
	shortest = max(shortest, 1)
	if n == 0 {
		return nil
	}
	cost := segmentCost(y)
	best := make([]float64, n+1) // best[t]: RSS of y[:t] with m changes
	for t := range best {
		best[t] = math.Inf(1)
		if t >= shortest {
			best[t] = cost(0, t)
		}
	}
	var from [][]int
	out := []Partition{newPartition(nil, best[n], n)}
	for m := 1; m <= most && (m+1)*shortest <= n; m++ {
		next, prev := make([]float64, n+1), make([]int, n+1)
		for t := range next {
			next[t] = math.Inf(1)
			for c := m * shortest; c <= t-shortest; c++ {
				if v := best[c] + cost(c, t); v < next[t] {
					next[t], prev[t] = v, c
				}
			}
		}
		from = append(from, prev)
		best = next
		changes := make([]int, m)
		for i, t := m-1, n; i >= 0; i-- {
			t = from[i][t]
			changes[i] = t
		}
		out = append(out, newPartition(changes, best[n], n))
	}
	return out
}

// Best is the partition of least BIC.
func Best(ps []Partition) Partition {
	var b Partition
	for i, p := range ps {
		if i == 0 || p.BIC < b.BIC {
			b = p
		}
	}
	return b
}

func newPartition(changes []int, rss float64, n int) Partition {
	f, m := float64(n), float64(len(changes))
	return Partition{changes, rss, f*(math.Log(rss/f)+1+math.Log(2*math.Pi)) + 2*(m+1)*math.Log(f)}
}

// segmentCost gives the residual sum of squares of y[i:j] about its mean in one step.
func segmentCost(y []float64) func(i, j int) float64 {
	mean := 0.0
	for _, v := range y {
		mean += v / float64(len(y))
	}
	s, q := make([]float64, len(y)+1), make([]float64, len(y)+1)
	for i, v := range y {
		d := v - mean
		s[i+1], q[i+1] = s[i]+d, q[i]+d*d
	}
	return func(i, j int) float64 {
		d := s[j] - s[i]
		return max(q[j]-q[i]-d*d/float64(j-i), 0)
	}
}
