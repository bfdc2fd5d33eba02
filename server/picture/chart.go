package picture

import (
	"math"
	"strings"

	"soakline/analysis"
	"soakline/analysis/say"
	"soakline/collector/telemetry"
)

// Options says what a chart looks like; the zero Options draws the lanes alone.
type Options struct {
	ID            string  // prefix of ids in one HTML page; letters and digits
	Width, Height float64 // px; 0 is 1200 x 760
	Heading       string  // stands above the chart; untrusted text
	Say           bool    // the say-line stands above the chart
}

// The measures of a chart, px.
const (
	usualWidth  = 1200.0
	usualHeight = 760.0
	textSize    = 13.0
	eaves       = 46.0 // above the lanes: marks, then load spans
	ribbonSpace = 30.0
	laneGap     = 24.0
	legendLine  = 20.0
)

// chart is a chart in the making.
type chart struct {
	Drawing
	tr    *telemetry.Trace
	r     analysis.Result
	span  span
	plans []lanePlan
	y     float64 // where the next thing goes
	top   float64 // of the eaves
	lanes float64 // where the lanes begin
	foot  float64 // where they end
	strip float64 // height of the ribbon and the space above it
	key   []entry // of the legend
	taken []box   // by labels
}

// Chart draws a recording with what its analysis found: power with its limits and
// running average, temperature with its limits, steady state or forecast, clock, and
// the ribbon of what held the chip back.
func Chart(tr *telemetry.Trace, r analysis.Result, o Options) *Drawing {
	c := &chart{tr: tr, r: r, plans: plans(tr, r)}
	c.ID, c.Width, c.Height = o.ID, o.Width, o.Height
	if !(c.Width > 0) {
		c.Width = usualWidth
	}
	if !(c.Height > 0) {
		c.Height = usualHeight
	}
	c.Title = "Power, temperature and clock over time. " + say.Of(r).Text
	c.y = 8
	c.heading(o)
	if len(c.plans) == 0 || len(tr.Time) == 0 {
		c.nothing()
		return &c.Drawing
	}
	c.strip, c.key = ribbonSpace, c.shares()
	c.place()
	c.ground()
	c.loads()
	c.markLines()
	c.lines()
	c.burst()
	for i := range c.plans {
		c.inLane(&c.plans[i])
	}
	c.pennants()
	c.ribbon()
	c.zoom()
	return &c.Drawing
}

// nothing says so where there is nothing to draw.
func (c *chart) nothing() {
	text := "No power, temperature or clock was recorded."
	if len(c.tr.Time) == 0 {
		text = "Nothing was recorded: the session holds no sample."
	}
	c.add(words{at: point{16, c.y + 30}, text: text, size: 16, colour: ink})
	c.Height = c.y + 56
}

// heading writes title, say-line and stamp.
func (c *chart) heading(o Options) {
	right := c.Width - 12
	if c.tr.Simulated || c.r.Simulated {
		w := textWidth("SIMULATED", textSize, true) + 14
		c.add(rect{box: box{right - w, c.y, w, 20}, fill: fill{colour: stamp, hatch: rising}},
			rect{box: box{right - w + 4, c.y + 2, w - 8, 16}, fill: fill{colour: stamp}},
			words{at: point{right - w/2, c.y + 14.5}, text: "SIMULATED", size: textSize, bold: true, anchor: middle, colour: onLimiter})
		right -= w + 12
	}
	if o.Heading == "" && !o.Say {
		c.y += 22
		return
	}
	if o.Heading != "" {
		c.add(words{at: point{12, c.y + 17}, text: fitted(tidy(o.Heading, 200), 18, true, right-12), size: 18, bold: true, colour: ink})
	}
	if o.Heading != "" || right < c.Width-12 { // the stamp stands in this line
		c.y += 30
	}
	if !o.Say {
		return
	}
	for _, l := range wrapped(sentences(c.r), 16, c.Width-24) {
		c.add(words{at: point{12, c.y + 14}, text: l, size: 16, colour: ink})
		c.y += 22
	}
	c.y += 6
}

// sentences is the say-line without the stamp, which stands beside it.
func sentences(r analysis.Result) string {
	var parts []string
	for _, p := range say.Of(r).Parts {
		if p.Text != "SIMULATED." {
			parts = append(parts, p.Text)
		}
	}
	return strings.Join(parts, " ")
}

// wrapped breaks text into lines of a width.
func wrapped(text string, size, width float64) []string {
	var out []string
	now := ""
	for _, w := range strings.Fields(text) {
		if try := strings.TrimSpace(now + " " + w); now == "" || textWidth(try, size, false) <= width {
			now = try
			continue
		}
		out, now = append(out, now), w
	}
	if now != "" {
		out = append(out, now)
	}
	return out
}

// place lays out time and lanes.
func (c *chart) place() {
	last := c.tr.Time[len(c.tr.Time)-1]
	c.span = span{From: c.tr.Time[0], To: last, Left: 50, Right: c.Width - 14, last: last}
	if c.running() {
		c.span.To += math.Max(0.12*(last-c.span.From), 1)
	}
	if c.span.To-c.span.From < 1 {
		c.span.To = c.span.From + 1
	}
	step := (c.span.To - c.span.From) / ((c.span.Right - c.span.Left) / 1.5)
	c.span.width = math.Max(step, 1e-3)
	c.top = c.y
	c.lanes = c.top + eaves
	c.foot = c.Height - c.strip - 38 - c.legendHeight()
	sum := 0.0
	for _, p := range c.plans {
		sum += p.share
	}
	room := c.foot - c.lanes - laneGap*float64(len(c.plans))
	y := c.lanes
	for i := range c.plans {
		p := &c.plans[i]
		h := math.Max(60, room*p.share/sum)
		p.lane.Top, p.lane.Bottom = y+laneGap, y+laneGap+h
		p.fit(c.r)
		y += laneGap + h
	}
	c.foot = y
	c.Height = math.Max(c.Height, c.foot+c.strip+38+c.legendHeight())
}

// running is true where the recording ends under load that has not settled: what lies
// ahead is then drawn.
func (c *chart) running() bool {
	n := len(c.r.Limiter)
	return n > 0 && c.r.Limiter[n-1].Kind != analysis.Idle && !c.r.Steady.Reached && c.r.Steady.ForecastC.Known()
}

// seen is true for a time that the chart shows.
func (c *chart) seen(n analysis.Number) bool {
	return n.Known() && float64(n) >= c.span.From && float64(n) <= c.span.To
}

// ground draws the grid, the value axis and the time axis.
func (c *chart) ground() {
	s := c.span
	if s.To > s.last {
		c.add(rect{box: box{s.X(s.last), c.lanes, s.Right - s.X(s.last), c.foot - c.lanes}, fill: fill{colour: quiet, opacity: 0.09}, tag: overTime(s.last, s.To)})
	}
	for i := range c.plans {
		p := &c.plans[i]
		for _, v := range p.lane.ticks() {
			y := p.lane.Y(v)
			c.add(level(y, s.Left, s.Right, stroke{grid, 1, nil}, ""),
				words{at: point{s.Left - 7, y + 4.5}, text: digits(v, 0), size: textSize, anchor: end, colour: quiet})
		}
	}
	axis := c.foot + c.strip + 18
	for _, t := range timeTicks(s.From, s.To, (s.Right-s.Left)/78) {
		c.add(upright(s.X(t), c.lanes, c.foot, stroke{grid, 1, nil}, ` data-tick=""`))
		if x := s.X(t); x > s.Left+10 && x < s.Right-16 {
			c.add(words{at: point{x, axis}, text: clockTime(t), size: textSize, anchor: middle, colour: quiet, tag: ` data-tick=""`})
		}
	}
	c.add(words{at: point{8, axis}, text: "time", size: textSize, colour: quiet})
	for i := range c.plans {
		p := &c.plans[i]
		c.add(words{at: point{8, p.lane.Top - 6}, text: p.title + ", " + p.unit, size: textSize, bold: true, colour: laneColour(p)})
		c.taken = append(c.taken, box{8, p.lane.Top - 18, textWidth(p.title+", "+p.unit, textSize, true) + 8, 16})
	}
}

// lines draws the measured lines, the lane's own on top.
func (c *chart) lines() {
	for i := range c.plans {
		p := &c.plans[i]
		c.add(clip{box{c.span.Left, p.lane.Top - 1, c.span.Right - c.span.Left, p.lane.Bottom - p.lane.Top + 2}})
		for k := len(p.lines) - 1; k >= 0; k-- {
			l := p.lines[k]
			runs := l.column.runs(c.span, p.lane)
			if l.shaded {
				for _, run := range runs {
					c.add(shade(run, p.lane.Bottom, l.stroke.colour))
				}
			}
			c.add(line{runs: runs, stroke: l.stroke, tag: ` data-line="` + l.id + `"`})
		}
		c.add(unclip{})
	}
}

func shade(run []point, floor float64, c colour) area {
	points := append([]point{{run[0].X, floor}}, run...)
	return area{points: append(points, point{run[len(run)-1].X, floor}), fill: fill{colour: c, opacity: 0.1}, tag: ` data-still=""`}
}
