package say

import (
	"fmt"
	"math"
)

// watts writes a measured power: tenths below 100 W.
func watts(w float64) string {
	if math.Abs(w) < 99.95 {
		return fmt.Sprintf("%.1f W", w)
	}
	return whole(w)
}

func whole(w float64) string { return fmt.Sprintf("%.0f W", w) }

func celsius(c float64) string { return fmt.Sprintf("%.0f °C", c) }

// step is the rounding that an interval of this width bears: 1, 2, 5, 10 ... and no
// more than some ten steps in the interval.
func step(width float64) float64 {
	for s := 1.0; ; s *= 10 {
		for _, k := range []float64{1, 2, 5} {
			if 11*k*s >= width || !(s < 1e6) {
				return k * s
			}
		}
	}
}

// span writes an interval, rounded outward to its step.
func span(low, high float64) string {
	s := step(high - low)
	if s == 1 {
		return fmt.Sprintf("%.0f to %.0f", low, high)
	}
	return fmt.Sprintf("%.0f to %.0f", s*math.Floor(low/s), s*math.Ceil(high/s))
}

// rounded rounds to a step.
func rounded(x, step float64) float64 { return step * math.Round(x/step) }

// clock writes a time of the trace as minutes and seconds, or with hours.
func clock(s float64) string {
	n := int(math.Round(s))
	if n >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
	}
	return fmt.Sprintf("%d:%02d", n/60, n%60)
}

// duration writes a length of time roughly, in steps that grow with it.
func duration(s float64) string {
	switch {
	case s < 20:
		return fmt.Sprintf("%.0f s", math.Max(s, 0))
	case s < 55:
		return fmt.Sprintf("%.0f s", 10*math.Round(s/10))
	case s < 570:
		return fmt.Sprintf("%.0f min", math.Max(math.Round(s/60), 1))
	case s < 7200:
		return fmt.Sprintf("%.0f min", 5*math.Round(s/300))
	}
	return fmt.Sprintf("%.0f h", s/3600)
}

// durationStep is the step of duration at s.
func durationStep(s float64) float64 {
	switch {
	case s < 20:
		return 3
	case s < 55:
		return 10
	case s < 570:
		return 60
	}
	return 300
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
