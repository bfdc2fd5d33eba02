package picture

import "math"

// leastGap is the narrowest gap that is pointed out, px.
const leastGap = 4.0

// gaps says where the lane's own line has no value, and why.
func (c *chart) gaps(p *lanePlan) {
	l := p.lines[0]
	from, why := math.NaN(), ""
	for i, t := range c.tr.Time {
		known := !math.IsNaN(l.column.v[i])
		switch {
		case !known && math.IsNaN(from):
			from, why = t, c.tr.StateAt(l.channel, i).Reason()
			if i > 0 {
				from = c.tr.Time[i-1]
			}
		case known && !math.IsNaN(from):
			c.gap(p, from, t, why)
			from = math.NaN()
		case known && i > 0 && t-c.tr.Time[i-1] > l.column.hole:
			c.gap(p, c.tr.Time[i-1], t, "nothing was sampled")
		}
	}
	if !math.IsNaN(from) {
		c.gap(p, from, c.span.last, why)
	}
}

func (c *chart) gap(p *lanePlan, from, to float64, why string) {
	x, w := c.span.X(from), c.span.X(to)-c.span.X(from)
	if w < leastGap {
		return
	}
	text := "gap: " + why
	c.add(rect{box: box{x, p.lane.Top, w, p.lane.Bottom - p.lane.Top}, fill: fill{colour: quiet, opacity: 0.07}, tag: overTime(from, to), tip: text})
	if short := fitted(text, textSize, false, w-10); short != "" {
		c.say(words{at: point{x + 5, p.lane.Bottom - 6}, text: short, colour: quiet, tag: atTime(from)}, p)
	}
}
