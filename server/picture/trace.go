package picture

import (
	"math"
	"slices"

	"soakline/collector/telemetry"
)

// column is one line's values over time.
type column struct {
	at, v []float64
	hole  float64 // a step of time beyond this is a gap, s
}

func columnOf(tr *telemetry.Trace, c int) column {
	return column{tr.Time, tr.Values[c], holeOf(tr.Time)}
}

// holeOf is the step beyond which nothing was sampled: five usual steps.
func holeOf(at []float64) float64 {
	var steps []float64
	for i := 1; i < len(at) && len(steps) < 2000; i++ {
		steps = append(steps, at[i]-at[i-1])
	}
	if len(steps) == 0 {
		return math.Inf(1)
	}
	slices.Sort(steps)
	return math.Max(5*steps[len(steps)/2], 1e-9)
}

// bucket is the least and the greatest value in one step of the time grid; NaN in a gap.
type bucket struct {
	low, high         float64
	lowFirst, brokeIn bool // brokeIn: a gap lies between it and the bucket before
}

// buckets puts a column on the grid floor(t/width) from first on, n steps. Minimum and
// maximum of every step survive, whatever its width; a gap at least a step long breaks
// the line.
func (c column) buckets(first, width float64, n int) []bucket {
	out := make([]bucket, n)
	for i := range out {
		out[i].low, out[i].high = math.NaN(), math.NaN()
	}
	broke, last := false, math.NaN()
	for i, t := range c.at {
		v := c.v[i]
		if math.IsNaN(v) || math.IsInf(v, 0) {
			broke = true
			continue
		}
		k := int(math.Floor((t - first) / width))
		if k < 0 || k >= n {
			continue
		}
		b := &out[k]
		if math.IsNaN(b.low) {
			*b = bucket{v, v, true, (broke || t-last > c.hole) && t-last > width}
		} else if v < b.low {
			b.low, b.lowFirst = v, false
		} else if v > b.high {
			b.high, b.lowFirst = v, true
		}
		broke, last = false, t
	}
	return out
}

// extent is the least and the greatest value; NaN where there is none.
func (c column) extent() (low, high float64) {
	low, high = math.NaN(), math.NaN()
	for _, v := range c.v {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		if !(v >= low) {
			low = v
		}
		if !(v <= high) {
			high = v
		}
	}
	return low, high
}

// average is the running average of a power with time constant tau: the exact answer of
// a first-order average to values held from sample to sample, as the page draws it.
func average(c column, tau float64) column {
	out := column{c.at, make([]float64, len(c.v)), c.hole}
	now := math.NaN()
	for i, v := range c.v {
		switch {
		case math.IsNaN(v):
		case math.IsNaN(now) || i == 0:
			now = v
		default:
			now -= (v - now) * math.Expm1(-(c.at[i]-c.at[i-1])/tau)
		}
		out.v[i] = now
		if math.IsNaN(v) {
			out.v[i] = v
		}
	}
	return out
}

// runs draws a column on a lane: a polyline between gaps, with points that lie on the
// way left out.
func (c column) runs(s span, l Lane) [][]point {
	var out [][]point
	var run []point
	for i, b := range c.buckets(s.From, s.width, s.n()) {
		if math.IsNaN(b.low) {
			continue
		}
		if b.brokeIn {
			out, run = keep(out, run), nil
		}
		x := s.X(s.From + (float64(i)+0.5)*s.width)
		first, second := b.low, b.high
		if !b.lowFirst {
			first, second = b.high, b.low
		}
		run = put(run, point{x, l.Y(first)})
		if first != second {
			run = put(run, point{x, l.Y(second)})
		}
	}
	return keep(out, run)
}

func keep(out [][]point, run []point) [][]point {
	if len(run) == 0 {
		return out
	}
	return append(out, run)
}

// put adds a point; the one before goes where the line is level through it.
func put(run []point, p point) []point {
	const same = 0.04 // px
	if n := len(run); n >= 2 && math.Abs(run[n-1].Y-p.Y) < same && math.Abs(run[n-2].Y-p.Y) < same {
		run[n-1] = p
		return run
	}
	return append(run, p)
}

// span is the stretch of time that a chart shows and where.
type span struct {
	From, To    float64 // s
	Left, Right float64 // px
	width       float64 // of a bucket, s
	last        float64 // s, the last sample
}

func (s span) X(t float64) float64 { return s.Left + (t-s.From)/(s.To-s.From)*(s.Right-s.Left) }

func (s span) n() int { return int(math.Ceil((s.last-s.From)/s.width)) + 1 }
