package picture

import (
	"image"
	"math"
)

// Lines are painted piece by piece: each piece of a polyline is a quadrangle, each corner
// a disc, all turning the same way round, so that they add up to one shape.

func (l line) paint(c *canvas) {
	src := image.NewUniform(l.stroke.colour.rgb())
	for _, run := range l.runs {
		parts := [][]point{run}
		if len(l.stroke.dash) > 0 {
			parts = dashed(run, l.stroke.dash)
		}
		for _, part := range parts {
			c.polyline(part, l.stroke.width, src)
		}
	}
}

// polylineStep bounds how many pieces are filled at once, to keep the area small.
const polylineStep = 64

func (c *canvas) polyline(run []point, width float64, src image.Image) {
	if len(run) == 1 {
		c.polygon([][]point{disc(run[0], math.Max(width, 1.5)/2)}, src)
	}
	for first := 0; first+1 < len(run); first += polylineStep {
		last := min(first+polylineStep, len(run)-1)
		var outlines [][]point
		for i := first; i < last; i++ {
			if s := segment(run[i], run[i+1], width); s != nil {
				outlines = append(outlines, s)
			}
			if width > 1 && i+1 < len(run)-1 {
				outlines = append(outlines, disc(run[i+1], width/2))
			}
		}
		c.polygon(outlines, src)
	}
}

// segment is a piece of a line as a quadrangle; nil where it has no length.
func segment(a, b point, width float64) []point {
	length := math.Hypot(b.X-a.X, b.Y-a.Y)
	if length == 0 {
		return nil
	}
	nx, ny := -(b.Y-a.Y)/length*width/2, (b.X-a.X)/length*width/2
	return []point{{a.X - nx, a.Y - ny}, {b.X - nx, b.Y - ny}, {b.X + nx, b.Y + ny}, {a.X + nx, a.Y + ny}}
}

// disc is a circle as a polygon, turning the same way as segment.
func disc(at point, r float64) []point {
	const n = 12
	out := make([]point, n)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		out[i] = point{at.X + r*cos, at.Y + r*sin}
	}
	return out
}

// dashed cuts a polyline into dashes.
func dashed(run []point, dash []float64) [][]point {
	var out [][]point
	k, left, on := 0, dash[0], true
	var now []point
	if len(run) > 0 {
		now = []point{run[0]}
	}
	for i := 0; i+1 < len(run); i++ {
		a, b := run[i], run[i+1]
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		for gone := 0.0; gone < length; {
			step := math.Min(left, length-gone)
			gone += step
			left -= step
			p := point{a.X + (b.X-a.X)*gone/length, a.Y + (b.Y-a.Y)*gone/length}
			if on {
				now = append(now, p)
			}
			if left > 1e-9 {
				continue
			}
			if on {
				out = append(out, now)
			}
			k = (k + 1) % len(dash)
			left, on, now = dash[k], !on, []point{p}
		}
	}
	if on && len(now) > 1 {
		out = append(out, now)
	}
	return out
}
