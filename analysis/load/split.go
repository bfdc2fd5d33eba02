package load

import (
	"math"

	"soakline/analysis/series"
)

const (
	bins   = 240
	lowest = 0.05 // W, start of the histogram of ln P
	span   = 16.0 // in ln P: 0.05 W to some 400 kW
)

// splitPower parts the time-weighted histogram of log power in two by the criterion of
// least variance within the classes (Otsu 1979, IEEE Trans. SMC 9:62, from memory), and
// the lower class again while a deeper rest lies below. Rest is the mean of the lowest
// class, cut the power half way (in the logarithm) to the class above.
func splitPower(s []series.Sample, th Thresholds) (rest, cut float64, ok bool) {
	var h [bins]float64
	for i := range s {
		p := s[i].Power
		if !series.Known(p) {
			continue
		}
		h[bin(p)] += s[i].Dt
	}
	top := bins
	for ratio := th.Ratio; ; ratio = th.RestRatio {
		k, low, high, lowT, highT := otsu(h[:top])
		if k < 0 || high-low < math.Log(ratio) || lowT < 1 || highT < 1 {
			return rest, cut, ok
		}
		rest, cut, ok = math.Exp(low), math.Exp((low+high)/2), true
		top = k
	}
}

func bin(p float64) int {
	k := int((math.Log(math.Max(p, lowest)) - math.Log(lowest)) * bins / span)
	return min(k, bins-1)
}

func centre(k int) float64 { return math.Log(lowest) + (float64(k)+0.5)*span/bins }

// otsu parts a histogram before bin k; low and high are the class means in ln P.
func otsu(h []float64) (k int, low, high, lowT, highT float64) {
	var w, m float64
	for i, v := range h {
		w += v
		m += v * centre(i)
	}
	k = -1
	best, w0, m0 := 0.0, 0.0, 0.0
	for i := 0; i < len(h)-1; i++ {
		w0 += h[i]
		m0 += h[i] * centre(i)
		w1 := w - w0
		if w0 == 0 || w1 <= 1e-12*w {
			continue
		}
		d := m0/w0 - (m-m0)/w1
		if b := w0 * w1 * d * d; b > best*(1+1e-12) {
			best, k, low, high, lowT, highT = b, i+1, m0/w0, (m-m0)/w1, w0, w1
		}
	}
	return k, low, high, lowT, highT
}
