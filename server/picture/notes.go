package picture

import (
	"fmt"
	"math"

	"soakline/analysis"
	"soakline/collector/telemetry"
)

// say writes a label, moved up or down where another stands already; within bounds it.
func (c *chart) say(t words, within *lanePlan) {
	t.size = textSize
	t.halo = true
	w := textWidth(t.text, t.size, t.bold) + 2
	left := t.at.X
	if t.anchor == end {
		left -= w
	}
	if left+w > c.span.Right { // set from the right: whatever the font, it stays inside
		left, t.anchor = c.span.Right-w, end
	}
	left = math.Max(left, c.span.Left+3)
	t.at.X = left
	if t.anchor == end {
		t.at.X = left + w
	}
	for _, shift := range []float64{0, 8, -8, 16, -16, 24, -24, 32, -32, 48, -48} {
		b := box{left, t.at.Y + shift - 12, w, 16}
		if within != nil && (b.Y < within.lane.Top-2 || b.Y+b.H > within.lane.Bottom+2) || c.covers(b) {
			continue
		}
		t.at.Y += shift
		c.taken = append(c.taken, b)
		c.add(t)
		return
	}
}

func (c *chart) covers(b box) bool {
	for _, o := range c.taken {
		if b.X < o.X+o.W && o.X < b.X+b.W && b.Y < o.Y+o.H && o.Y < b.Y+b.H {
			return true
		}
	}
	return false
}

// loads draws the load spans under the marks.
func (c *chart) loads() {
	y := c.lanes - 4
	for _, l := range c.r.Load {
		a, b := float64(l.StartS), float64(l.EndS)
		x, w := c.span.X(a), c.span.X(b)-c.span.X(a)
		c.add(rect{box: box{x, y, math.Max(w, 2), 3}, fill: fill{colour: quiet}, tag: overTime(a, b), tip: "load " + clockTime(a) + " to " + clockTime(b)})
		if text := "load " + durationWords(b-a); textWidth(text, textSize, false)+6 < w {
			c.add(words{at: point{x + 2, y - 5}, text: text, size: textSize, colour: quiet, tag: atTime(a)})
		}
	}
}

// marks are those that the chart shows.
func (c *chart) marks() []telemetry.Mark {
	var shown []telemetry.Mark
	for _, m := range c.tr.Marks {
		if c.seen(analysis.Number(m.At)) {
			shown = append(shown, m)
		}
	}
	return shown
}

// crowd is how near marks may stand, on average, for their lines to go through the lanes.
const crowd = 14.0 // px

// markLines draws each mark as a line through every lane; where there are too many of
// them, only down to the lanes.
func (c *chart) markLines() {
	shown := c.marks()
	foot := c.foot
	if float64(len(shown))*crowd > c.span.Right-c.span.Left {
		foot = c.lanes
	}
	for _, m := range shown {
		s := stroke{ink, 1, nil}
		if m.Kind != telemetry.MarkUser {
			s = stroke{quiet, 1, []float64{2, 3}}
		}
		c.add(upright(c.span.X(m.At), c.top+2, foot, s, atTime(m.At)))
	}
}

// pennants hang from the top edge, one a mark, with as much of its text as has room.
func (c *chart) pennants() {
	shown := c.marks()
	for i, m := range shown {
		x := c.span.X(m.At)
		next := c.span.Right + 8
		if i+1 < len(shown) {
			next = c.span.X(shown[i+1].At)
		}
		col := ink
		if m.Kind != telemetry.MarkUser {
			col = quiet
		}
		text := tidy(m.Text, 60)
		if text == "" {
			text = "mark"
		}
		text = fitted(text, textSize, true, math.Min(260, next-x-20))
		w := math.Min(5, math.Max(0, next-x-8))
		if text != "" {
			w = textWidth(text, textSize, true) + 10
		}
		t, tag := c.top+1, atTime(m.At)
		c.add(area{points: []point{{x, t}, {x + w + 6, t}, {x + w, t + 9}, {x + w + 6, t + 18}, {x, t + 18}}, fill: fill{colour: col}, tag: tag})
		if text != "" {
			c.add(words{at: point{x + 5, t + 13.5}, text: text, size: textSize, bold: true, colour: paper, tag: tag})
		}
	}
}

// burst marks where the power fell from its short- to its long-term level.
func (c *chart) burst() {
	s := c.r.PowerStep
	if !s.Found || !c.seen(s.TimeS) {
		return
	}
	t := float64(s.TimeS)
	x := c.span.X(t)
	c.add(upright(x, c.lanes, c.foot, stroke{ink, 1, []float64{1, 3}}, atTime(t)))
	if c.plans[0].id != "power" {
		return
	}
	text := "burst ends " + clockTime(t)
	if s.Cause != nil && *s.Cause == "thermal" {
		text = "heat ends the burst " + clockTime(t)
	}
	p := &c.plans[0]
	y := p.lane.Top + 14
	if s.ShortW.Known() && s.LongW.Known() {
		text += fmt.Sprintf(", %s → %s", amount(float64(s.ShortW), 1, "W"), amount(float64(s.LongW), 1, "W"))
		y = p.lane.Y(float64(s.ShortW+s.LongW) / 2)
	}
	c.say(words{at: point{x + 6, y}, text: text, bold: true, colour: ink, tag: atTime(t)}, p)
}

// inLane draws limits, findings and the names of lines.
func (c *chart) inLane(p *lanePlan) {
	for _, l := range p.limits {
		y := p.lane.Y(l.value)
		c.add(level(y, c.span.Left, c.span.Right, stroke{limitLine, 1, []float64{10, 4}}, ""))
		c.taken = append(c.taken, box{c.span.Left, y - 1, c.span.Right - c.span.Left, 2})
		at := y - 5
		if at-12 < p.lane.Top {
			at = y + 15
		}
		places := 0
		if l.value != math.Trunc(l.value) {
			places = 1
		}
		c.say(words{at: point{c.span.Left + 8, at}, text: l.name + " " + amount(l.value, places, p.unit), colour: quiet}, p)
	}
	c.gaps(p)
	if p.id == "temperature" {
		c.hits(p)
		c.steady(p)
		c.forecast(p)
	}
	c.names(p)
}

// hits draws the stays at the thermal limit.
func (c *chart) hits(p *lanePlan) {
	for _, h := range c.r.ThermalHits {
		if !h.LimitC.Known() {
			continue
		}
		a, b := float64(h.StartS), float64(h.EndS)
		c.add(rect{box: box{c.span.X(a), p.lane.Y(float64(h.LimitC)) - 2, math.Max(2, c.span.X(b)-c.span.X(a)), 4},
			fill: fill{colour: looks[analysis.Thermal].colour}, tag: overTime(a, b), tip: "at the thermal limit " + clockTime(a) + " to " + clockTime(b)})
	}
}

// loadEnd is the end of the load in which t lies.
func (c *chart) loadEnd(t float64) float64 {
	for _, l := range c.r.Load {
		if float64(l.StartS) <= t && t <= float64(l.EndS)+1 {
			return float64(l.EndS)
		}
	}
	return c.span.last
}

// steady draws where the steady state begins and its temperature.
func (c *chart) steady(p *lanePlan) {
	s := c.r.Steady
	if !s.Reached || !c.seen(s.SinceS) || !s.TemperatureC.Known() {
		return
	}
	since := float64(s.SinceS)
	x, y, last := c.span.X(since), p.lane.Y(float64(s.TemperatureC)), c.loadEnd(since)
	c.add(upright(x, y-12, y+12, stroke{ink, 1.2, nil}, atTime(since)),
		rect{box: box{x, y - 0.6, math.Max(1, c.span.X(last)-x), 1.2}, fill: fill{colour: ink}, tag: overTime(since, last)})
	text := fmt.Sprintf("steady from %s at %s", clockTime(since), amount(float64(s.TemperatureC), 1, "°C"))
	c.say(words{at: point{x + 6, y - 9}, text: text, bold: true, colour: ink, tag: atTime(since)}, p)
}

// forecast draws where the die is heading with the band of its 90 % interval: ahead of a
// recording that ends under load; else at the end of the load that was too short.
func (c *chart) forecast(p *lanePlan) {
	s := c.r.Steady
	if s.Reached || !s.ForecastC.Known() || !s.ForecastLowC.Known() || !s.ForecastHighC.Known() {
		return
	}
	verb, from, to := "heading for", c.span.last, c.span.To
	if !c.running() {
		if len(c.r.Load) == 0 {
			return
		}
		verb, from = "was heading for", c.mainLoadEnd()
		to = math.Min(from+0.12*(c.span.To-c.span.From), c.span.To)
	}
	final, low, high := float64(s.ForecastC), float64(s.ForecastLowC), float64(s.ForecastHighC)
	c.add(clip{box{c.span.Left, p.lane.Top, c.span.Right - c.span.Left, p.lane.Bottom - p.lane.Top}})
	if c.running() {
		c.ahead(p, final, low, high)
	} else {
		c.add(rect{box: box{c.span.X(from), p.lane.Y(high), c.span.X(to) - c.span.X(from), math.Max(2, p.lane.Y(low)-p.lane.Y(high))},
			fill: fill{colour: 0xd55e00, opacity: 0.2}, tag: overTime(from, to)},
			level(p.lane.Y(final), c.span.X(from), c.span.X(to), stroke{temperature, 1.5, []float64{3, 3}}, overTime(from, to)))
	}
	c.add(unclip{})
	places := 0
	if high-low < 3 {
		places = 1
	}
	text := fmt.Sprintf("%s %s (%s to %s)", verb, amount(final, places, "°C"), digits(low, places), digits(high, places))
	y := math.Max(p.lane.Top+13, math.Min(p.lane.Y(final)-8, p.lane.Bottom-8))
	c.say(words{at: point{c.span.X(from) + 6, y}, text: text, bold: true, colour: temperature, tag: atTime(from)}, p)
}

// mainLoadEnd is the end of the longest load, the one that the findings are about.
func (c *chart) mainLoadEnd() float64 {
	best := c.r.Load[0]
	for _, l := range c.r.Load {
		if l.EndS-l.StartS > best.EndS-best.StartS {
			best = l
		}
	}
	return float64(best.EndS)
}

// ahead draws the way to the forecast as one exponential that is within 1 K after eta_s,
// the band opening from what is known now, and at the edge the final value itself.
func (c *chart) ahead(p *lanePlan, final, low, high float64) {
	from := math.NaN()
	for i := len(p.lines[0].column.v) - 1; i >= 0 && math.IsNaN(from); i-- {
		from = p.lines[0].column.v[i]
	}
	if math.IsNaN(from) {
		return
	}
	eta := c.span.To - c.span.last
	if s := c.r.Steady.EtaS; s.Known() && s > 1 {
		eta = float64(s)
	}
	tau := math.Max(1, eta/math.Max(1, math.Log(math.Max(math.Abs(final-from), math.E))))
	curve := func(to float64, i int) point {
		t := (c.span.To - c.span.last) * float64(i) / 40
		return point{c.span.X(c.span.last + t), p.lane.Y(to + (from-to)*math.Exp(-t/tau))}
	}
	var band, middle []point
	for i := range 41 {
		band, middle = append(band, curve(high, i)), append(middle, curve(final, i))
	}
	for i := 40; i >= 0; i-- {
		band = append(band, curve(low, i))
	}
	x := c.span.Right - 5
	whisker := stroke{temperature, 1.5, nil}
	c.add(upright(x, p.lane.Y(high), p.lane.Y(low), whisker, ` data-still=""`), level(p.lane.Y(high), x-4, x+4, whisker, ` data-still=""`),
		level(p.lane.Y(low), x-4, x+4, whisker, ` data-still=""`), line{runs: [][]point{{{x, p.lane.Y(final)}}}, stroke: stroke{temperature, 6, nil}, tag: ` data-still=""`})
	c.add(area{points: band, fill: fill{colour: 0xd55e00, opacity: 0.2}, tag: ` data-still=""`},
		line{runs: [][]point{middle}, stroke: stroke{temperature, 1.5, []float64{3, 3}}, tag: ` data-still=""`})
}

// names writes what the lines beside the lane's own are, at their ends.
func (c *chart) names(p *lanePlan) {
	for _, l := range p.lines[1:] {
		for i := len(l.column.v) - 1; i >= 0; i-- {
			if v := l.column.v[i]; !math.IsNaN(v) {
				c.say(words{at: point{c.span.X(l.column.at[i]) - 4, p.lane.Y(v) - 5}, text: l.name, anchor: end, colour: l.stroke.colour}, p)
				break
			}
		}
	}
}

// durationWords is a length of time short enough for a label.
func durationWords(s float64) string {
	switch {
	case s < 9.95:
		return amount(s, 1, "s")
	case s < 59.5:
		return amount(s, 0, "s")
	case s < 3600:
		return pair(int(s)/60, "min", int(s)%60, "s")
	}
	return pair(int(s)/3600, "h", int(s)/60%60, "min")
}

func pair(large int, unit string, small int, smaller string) string {
	if small == 0 {
		return fmt.Sprintf("%d%s%s", large, space, unit)
	}
	return fmt.Sprintf("%d%s%s %d%s%s", large, space, unit, small, space, smaller)
}
