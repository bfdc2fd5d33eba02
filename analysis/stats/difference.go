package stats

import "math"

// Difference is the outcome of a two-sided test of a difference of means, a minus b.
type Difference struct {
	Diff, SE, DF, T, P float64
}

// Interval is the interval of the difference at this level.
func (d Difference) Interval(level float64) (low, high float64) {
	return Estimate{d.Diff, d.SE, d.DF}.Interval(level)
}

func newDifference(diff, se, df float64) Difference {
	t := diff / se
	return Difference{Diff: diff, SE: se, DF: df, T: t, P: 2 * TCDF(-math.Abs(t), df)}
}

// Welch compares two means without equal variances (Welch 1947, Biometrika 34:28) with
// Satterthwaite's degrees of freedom (1946, Biometrics Bull. 2:110). All is NaN below two
// values a side.
func Welch(a, b []float64) Difference {
	va, vb := Variance(a)/float64(len(a)), Variance(b)/float64(len(b))
	nu := (va + vb) * (va + vb) / (va*va/float64(len(a)-1) + vb*vb/float64(len(b)-1))
	return newDifference(Mean(a)-Mean(b), math.Sqrt(va+vb), nu)
}

// Paired compares interleaved runs pair by pair, which removes what drifts slowly. All is
// NaN where the lengths differ or are below 2.
func Paired(a, b []float64) Difference {
	if len(a) != len(b) {
		n := math.NaN()
		return Difference{n, n, n, n, n}
	}
	d := make([]float64, len(a))
	for i := range a {
		d[i] = a[i] - b[i]
	}
	return newDifference(Mean(d), SD(d)/math.Sqrt(float64(len(d))), float64(len(d)-1))
}

// Anova is a one-way analysis of variance.
type Anova struct {
	BetweenSS, WithinSS  float64
	BetweenDF, WithinDF  float64
	F, P, R2, ResidualSD float64
}

// OneWay splits the variance of groups of runs into between and within; NaN where there
// are not two groups or no value is left over.
func OneWay(groups [][]float64) Anova {
	var all []float64
	for _, g := range groups {
		all = append(all, g...)
	}
	grand := Mean(all)
	a := Anova{BetweenDF: float64(len(groups) - 1), WithinDF: float64(len(all) - len(groups))}
	for _, g := range groups {
		m := Mean(g)
		a.BetweenSS += float64(len(g)) * (m - grand) * (m - grand)
		for _, v := range g {
			a.WithinSS += (v - m) * (v - m)
		}
	}
	a.F = (a.BetweenSS / a.BetweenDF) / (a.WithinSS / a.WithinDF)
	a.P = FUpper(a.F, a.BetweenDF, a.WithinDF)
	a.R2 = a.BetweenSS / (a.BetweenSS + a.WithinSS)
	a.ResidualSD = math.Sqrt(a.WithinSS / a.WithinDF)
	return a
}

// Permutation is the two-sided chance, over all ways to divide the runs between the two
// sides, of a difference of means at least as large as the one seen. It enumerates them
// all up to a million ways, else NaN.
func Permutation(a, b []float64) float64 {
	all := append(append([]float64(nil), a...), b...)
	n, k := len(all), len(a)
	if k == 0 || len(b) == 0 || n > 24 {
		return math.NaN()
	}
	total, seen := Sum(all), math.Abs(Mean(a)-Mean(b))*(1-1e-12)
	hits, ways := 0, 0
	var walk func(i, left int, sum float64)
	walk = func(i, left int, sum float64) {
		if left == 0 {
			ways++
			if math.Abs(sum/float64(k)-(total-sum)/float64(n-k)) >= seen {
				hits++
			}
			return
		}
		for j := i; j <= n-left; j++ {
			walk(j+1, left-1, sum+all[j])
		}
	}
	walk(0, k, 0)
	return float64(hits) / float64(ways)
}
