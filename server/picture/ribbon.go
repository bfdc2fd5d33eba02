package picture

import (
	"fmt"
	"math"
	"slices"

	"soakline/analysis"
)

// sure is the confidence below which the ribbon shows half its height.
const sure = 0.7

// stretches joins limiter spans of one kind that touch, so that a day stays small: what
// is narrower than half a pixel goes into its neighbour.
func (c *chart) stretches() []analysis.LimiterSpan {
	var out []analysis.LimiterSpan
	least := (c.span.To - c.span.From) / (c.span.Right - c.span.Left) / 2
	for _, s := range c.r.Limiter {
		n := len(out) - 1
		if n >= 0 && (out[n].Kind == s.Kind && unsure(out[n]) == unsure(s) || float64(s.EndS-s.StartS) < least) {
			out[n].EndS = s.EndS
			continue
		}
		out = append(out, s)
	}
	return out
}

func unsure(s analysis.LimiterSpan) bool { return s.Confidence.Known() && s.Confidence < sure }

// ribbon draws what held the chip back, in words where there is room, and the legend
// with the share of the load.
func (c *chart) ribbon() {
	top, h := c.foot+4, ribbonSpace-4
	for _, s := range c.stretches() {
		a, b := float64(s.StartS), float64(s.EndS)
		x, w := c.span.X(a), c.span.X(b)-c.span.X(a)
		l := lookOf(s.Kind)
		y := top
		if unsure(s) {
			y += h / 2
		}
		tip := fmt.Sprintf("%s, %s to %s, %s", l.title, clockTime(a), clockTime(b), s.Source)
		if s.Source != "reported" && s.Confidence.Known() {
			tip += fmt.Sprintf(", confidence %.0f %%", 100*float64(s.Confidence))
		}
		c.add(rect{box: box{x, y, math.Max(w, 0.5), top + h - y}, fill: fill{colour: l.colour, hatch: l.hatch}, tag: overTime(a, b), tip: tip})
		if w > 3 {
			c.add(upright(x+w, y, top+h, stroke{paper, 1, nil}, atTime(b)))
		}
		if tw := textWidth(l.title, textSize, true); !unsure(s) && tw+16 < w {
			colour := onLimiter
			if s.Kind == analysis.Idle {
				colour = ink
			}
			c.add(rect{box: box{x + 3, top + 4, tw + 9, h - 8}, fill: fill{colour: l.colour}, tag: atTime(a)},
				words{at: point{x + 8, top + h/2 + 4.5}, text: l.title, size: textSize, bold: true, colour: colour, tag: atTime(a)})
		}
	}
	c.legend(top + h + 30)
}

// entry is one entry of the legend: a limiter's look or, where it has a width, a stroke.
type entry struct {
	kind   analysis.Kind
	stroke stroke
	width  float64 // px
	text   string
}

// shares lists what held the chip back under load, the longest first.
func (c *chart) shares() []entry {
	spent := map[analysis.Kind]float64{}
	sum := 0.0
	for _, s := range c.r.Limiter {
		if s.Kind != analysis.Idle {
			spent[s.Kind] += float64(s.EndS - s.StartS)
			sum += float64(s.EndS - s.StartS)
		}
	}
	var out []entry
	for k := range spent {
		out = append(out, entry{kind: k})
	}
	slices.SortFunc(out, func(a, b entry) int {
		if d := spent[b.kind] - spent[a.kind]; d != 0 {
			return int(math.Copysign(1, d))
		}
		if a.kind < b.kind {
			return -1
		}
		return 1
	})
	for i := range out {
		s := spent[out[i].kind]
		share := amount(100*s/sum, 0, "% of the load")
		if s < 0.01*sum {
			share = "under 1" + space + "% of the load"
		}
		out[i].text = fmt.Sprintf("%s %s, %s", lookOf(out[i].kind).title, durationWords(s), share)
		out[i].width = 36 + textWidth(out[i].text, textSize, false)
	}
	return out
}

// legendHeight is what the legend needs.
func (c *chart) legendHeight() float64 {
	lines, x := 1, c.span.Left
	for _, s := range c.key {
		if x > c.span.Left && x+s.width > c.span.Right {
			lines, x = lines+1, c.span.Left
		}
		x += s.width + 12
	}
	return legendLine * float64(lines)
}

func (c *chart) legend(top float64) {
	x, y := c.span.Left, top+10
	for _, s := range c.key {
		if x > c.span.Left && x+s.width > c.span.Right {
			x, y = c.span.Left, y+legendLine
		}
		if l := lookOf(s.kind); s.stroke.width > 0 {
			c.add(level(y-4.5, x, x+34, s.stroke, ""), words{at: point{x + 40, y}, text: s.text, size: textSize, colour: ink})
		} else {
			c.add(rect{box: box{x, y - 11, 22, 13}, fill: fill{colour: l.colour, hatch: l.hatch}}, words{at: point{x + 28, y}, text: s.text, size: textSize, colour: ink})
		}
		x += s.width + 12
	}
}
