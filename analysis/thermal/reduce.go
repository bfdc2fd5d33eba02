package thermal

import (
	"math"

	"soakline/analysis/stats"
)

// row is a stretch of a run: mean power, and mean temperature over the reference.
type row struct {
	at, dt, p float64 // end s, length s, W
	y         float64 // K; NaN where there is none
}

// run is one reduced series.
type run struct {
	rows     []row
	measured bool    // the reference was measured
	zero     float64 // degC that was taken off where it was not
	rest     float64 // s before the first edge of power
	loaded   float64 // s at more than a quarter of the way from the least power to the highest
	hold     float64 // s between renewals of the sensor
}

// reduce averages a series over stretches that are short after an edge of power, where
// fast stages show, and grow to 8 % of the time since then: a day becomes some thousand
// rows and the running averages stay exact to that. Power is smoothed for the search of
// edges alone. A sensor that is renewed every h seconds shows values of h/2 ago on the
// average, so its readings are put that much earlier. Where a load with very many edges
// would give more than mostRows, the shortest stretch is doubled until it does not.
func reduce(s Series) (run, error) {
	n := len(s.At)
	if n < 20 || len(s.Power) != n || len(s.Temp) != n {
		return run{}, ErrShort
	}
	dt := (s.At[n-1] - s.At[0]) / float64(n-1)
	if !(dt > 0) {
		return run{}, ErrShort
	}
	for least := 0.99 * dt; ; least *= 2 {
		if out := reduceTo(s, dt, least); len(out.rows) <= mostRows {
			return out, nil
		}
	}
}

// mostRows bounds the cost of a fit: about 0.3 s for two runs.
const mostRows = 4000

// reduceTo reduces a series of mean step dt to stretches of at least least seconds.
func reduceTo(s Series, dt, least float64) run {
	n := len(s.At)
	out := run{hold: hold(s, dt), measured: true}
	y := over(s, &out)
	shift := int(math.Round(out.hold / 2 / dt))
	top, idle := highPower(s.Power), stats.Quantile(s.Power, 0.02)
	since, smooth, first := math.Inf(1), idle, true
	for _, p := range s.Power {
		if !math.IsNaN(p) {
			smooth = p
			break
		}
	}
	cur := row{}
	var sy, ny, sp float64
	for i := 1; i < n; i++ {
		step := s.At[i] - s.At[i-1]
		p := s.Power[i]
		if math.IsNaN(p) {
			p = smooth
		}
		if math.Abs(p-smooth) > 0.15*top && cur.dt >= least-0.99*dt { // an edge: close the stretch before it
			if first {
				out.rest, first = s.At[i-1]-s.At[0], false
			}
			cur.close(&out, s.At[i-1], &sp, &sy, &ny)
			since, smooth = 0, p
		}
		smooth += (1 - math.Exp(-step/0.5)) * (p - smooth)
		since += step
		if p > idle+(top-idle)/4 {
			out.loaded += step
		}
		cur.dt += step
		sp += p * step
		if j := i + shift; j < n && !math.IsNaN(y[j]) {
			sy, ny = sy+y[j], ny+1
		}
		if cur.dt >= max(least, min(0.08*since, 30)) && cur.dt >= out.hold*0.99 {
			cur.close(&out, s.At[i], &sp, &sy, &ny)
		}
	}
	cur.close(&out, s.At[n-1], &sp, &sy, &ny)
	if first {
		out.rest = 0
	}
	return out
}

func (r *row) close(out *run, at float64, sp, sy, ny *float64) {
	if r.dt > 0 {
		out.rows = append(out.rows, row{at: at, dt: r.dt, p: *sp / r.dt, y: *sy / *ny})
	}
	*r, *sp, *sy, *ny = row{}, 0, 0, 0
}

// over gives the temperature over the reference; where that is not measured, over the
// first reading, and the run says so.
func over(s Series, out *run) []float64 {
	y, known := make([]float64, len(s.At)), 0
	last := math.NaN()
	for i, t := range s.Temp {
		if i < len(s.Ref) && !math.IsNaN(s.Ref[i]) {
			last = s.Ref[i]
			known++
		}
		y[i] = t - last
	}
	if known > len(y)/2 {
		return y
	}
	out.measured, out.zero = false, math.NaN()
	for i, t := range s.Temp {
		if math.IsNaN(out.zero) {
			out.zero = t
		}
		y[i] = t - out.zero
	}
	return y
}

// highPower is the power that 2 % of the samples exceed.
func highPower(p []float64) float64 { return stats.Quantile(p, 0.98) }

// hold is how long the sensor keeps a value, s: the shortest usual time between two
// changes of reading where that is longer than the sampling step.
func hold(s Series, dt float64) float64 {
	counts, last, total := map[int]int{}, -1, 0
	for i := 1; i < len(s.Temp); i++ {
		if s.Temp[i] != s.Temp[i-1] && !math.IsNaN(s.Temp[i]) && !math.IsNaN(s.Temp[i-1]) {
			if last >= 0 {
				counts[i-last]++
				total++
			}
			last = i
		}
	}
	if total < 8 {
		return 0
	}
	seen := 0
	for k := 1; k < 50; k++ {
		if seen += counts[k]; seen*20 > total { // one gap in twenty is this short
			if k < 3 {
				return 0
			}
			return float64(k) * dt
		}
	}
	return 0
}
