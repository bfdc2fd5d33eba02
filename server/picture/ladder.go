package picture

import (
	"fmt"
	"math"
	"strings"

	"soakline/analysis"
	"soakline/analysis/ladder"
)

// The measures of a ladder's chart, px.
const (
	ladderWidth = 1000.0
	ladderRow   = 92.0
	ladderNames = 250.0
	ladderTop   = 74.0
)

// ladderLane is one figure of a ladder's chart, a lane from left to right.
type ladderLane struct {
	name, unit  string
	left, right float64
	scale       Lane // Top is the left and Bottom the right edge here
}

// Ladder draws the setups of a machine one under the other in the order tried: for each
// leading figure its value with its interval, the stock's as an upright line, and beneath
// the name what changed. Names and conditions are untrusted text.
func Ladder(l ladder.Ladder, o Options) *Drawing {
	d := &Drawing{ID: o.ID, Width: ladderWidth, Title: "Ladder of setups: each setup's figures beside those of stock"}
	if o.Width > 0 {
		d.Width = o.Width
	}
	d.Height = ladderTop + ladderRow*float64(len(l.Rungs)) + 52
	if len(l.Rungs) == 0 {
		d.Height = 60
		d.add(words{at: point{12, 34}, text: "No setup to draw.", size: textSize, colour: ink})
		return d
	}
	if l.Simulated {
		d.add(rect{box: box{0, 0, d.Width, 24}, fill: fill{colour: stamp}},
			words{at: point{12, 17}, text: "SIMULATED: computed by a model of a machine, not measured", size: 13, bold: true, colour: onLimiter})
	}
	foot := ladderTop + ladderRow*float64(len(l.Rungs))
	for i, r := range l.Rungs {
		d.ladderName(l, i, r)
	}
	for _, lane := range ladderLanes(l, d.Width) {
		d.ladderLane(l, lane, foot)
	}
	d.add(level(foot, 12, d.Width-12, stroke{rule, 1, nil}, ""))
	d.add(words{at: point{12, foot + 42}, size: 12.5, colour: quiet,
		text: fitted("Bars: 90 % intervals; a hollow dot has none. Dashed line: stock. ▲ better, ▼ worse, ◆ other than stock beyond chance (95 %).", 12.5, false, d.Width-24)})
	return d
}

// ladderName writes a setup's letter, name and change at the left.
func (d *Drawing) ladderName(l ladder.Ladder, i int, r ladder.Rung) {
	y := ladderTop + ladderRow*float64(i)
	d.add(level(y, 12, d.Width-12, stroke{rule, 1, nil}, ""))
	more := fmt.Sprintf("%d runs", len(r.Runs))
	if len(r.Runs) == 1 {
		more = "1 run"
	}
	if i == l.Stock {
		more = "stock, " + more
	}
	y += 19
	for _, line := range ladderText(r.Letter+", "+tidy(r.Name, 120), 14, true, 2) {
		d.add(words{at: point{12, y}, text: line, size: 14, bold: true, colour: ink})
		y += 16
	}
	d.add(words{at: point{12, y}, text: more, size: 12, colour: quiet})
	for _, line := range ladderText(tidy(ladder.Changes(r.Changed), 300), 12, false, 2) {
		y += 15
		d.add(words{at: point{12, y}, text: line, size: 12, colour: quiet})
	}
}

// ladderText breaks a text of the left column into so many lines at most.
func ladderText(text string, size float64, bold bool, most int) []string {
	const room = ladderNames - 22
	if text == "" {
		return nil
	}
	width := room
	if bold {
		width = room * 0.93 // wrapped measures the regular face
	}
	lines := wrapped(text, size, width)
	if len(lines) > most {
		lines = append(lines[:most-1], fitted(strings.Join(lines[most-1:], " "), size, bold, room))
	}
	for i := range lines {
		lines[i] = fitted(lines[i], size, bold, room)
	}
	return lines
}

// ladderLanes shares the width among the leading figures that the ladder has.
func ladderLanes(l ladder.Ladder, width float64) []ladderLane {
	var out []ladderLane
	for _, name := range l.Leading() {
		low, high := math.Inf(1), math.Inf(-1)
		unit := ""
		for _, r := range l.Rungs {
			for _, f := range r.Figures {
				if f.Name != name || !f.Value.Known() {
					continue
				}
				unit = f.Unit
				for _, n := range []analysis.Number{f.Value, f.Low, f.High} {
					if n.Known() {
						low, high = math.Min(low, float64(n)), math.Max(high, float64(n))
					}
				}
			}
		}
		if low <= high {
			out = append(out, ladderLane{name: name, unit: unit, scale: Lane{Low: low, High: high}})
		}
	}
	const most = 5
	if len(out) > most {
		out = out[:most]
	}
	share := (width - ladderNames - 12) / float64(max(len(out), 1))
	for i := range out {
		p := &out[i]
		p.left = ladderNames + share*float64(i)
		p.right = p.left + share - 14
		spare := 0.08 * (p.scale.High - p.scale.Low)
		if least := 0.02 * math.Abs(p.scale.High); p.scale.High-p.scale.Low < least {
			spare = least
		}
		p.scale.Low, p.scale.High = p.scale.Low-spare, p.scale.High+spare
	}
	return out
}

func (p ladderLane) x(v float64) float64 {
	return p.left + 6 + (v-p.scale.Low)/(p.scale.High-p.scale.Low)*(p.right-p.left-12)
}

// ladderLane draws one figure down all setups.
func (d *Drawing) ladderLane(l ladder.Ladder, p ladderLane, foot float64) {
	title := wrapped(p.name+", "+p.unit, 12.5, p.right-p.left)
	for i, line := range title {
		d.add(words{at: point{p.left, ladderTop - 10 - 15*float64(len(title)-1-i)}, text: line, size: 12.5, bold: true, colour: ink})
	}
	d.add(rect{box: box{p.left, ladderTop, p.right - p.left, foot - ladderTop}, fill: fill{colour: raised}})
	for _, v := range p.ticks() {
		d.add(upright(p.x(v), ladderTop, foot, stroke{grid, 1, nil}, ""),
			words{at: point{p.x(v), foot + 16}, text: plainNumber(v), size: 12, anchor: middle, colour: quiet})
	}
	for i := range l.Rungs[1:] {
		y := ladderTop + ladderRow*float64(i+1)
		d.add(level(y, p.left, p.right, stroke{rule, 1, nil}, ""))
	}
	for _, f := range l.Rungs[l.Stock].Figures {
		if f.Name == p.name && f.Value.Known() {
			d.add(upright(p.x(float64(f.Value)), ladderTop, foot, stroke{clock, 1.3, []float64{5, 4}}, ""))
		}
	}
	for i, r := range l.Rungs {
		for _, f := range r.Figures {
			if f.Name == p.name && f.Value.Known() {
				d.ladderDot(p, f, ladderTop+ladderRow*float64(i))
			}
		}
	}
}

func (p ladderLane) ticks() []float64 {
	step := niceStep(p.scale.High-p.scale.Low, 4)
	var out []float64
	for v := math.Ceil(p.scale.Low/step) * step; v <= p.scale.High; v += step {
		if x := p.x(v); x > p.left+10 && x < p.right-10 {
			out = append(out, v)
		}
	}
	return out
}

// plainNumber writes a tick with no more decimals than it has.
func plainNumber(v float64) string {
	for places := range 4 {
		if s := math.Pow(10, float64(places)); math.Abs(v*s-math.Round(v*s)) < 1e-6*math.Max(1, math.Abs(v*s)) {
			return digits(v, places)
		}
	}
	return digits(v, 3)
}

// ladderDot draws a value with its interval, its number above and its change beneath.
func (d *Drawing) ladderDot(p ladderLane, f ladder.Figure, top float64) {
	x, y := p.x(float64(f.Value)), top+44
	if f.Low.Known() && f.High.Known() {
		a, b := p.x(float64(f.Low)), p.x(float64(f.High))
		d.add(level(y, a, b, stroke{ink, 2.2, nil}, ""), upright(a, y-4, y+4, stroke{ink, 1.5, nil}, ""), upright(b, y-4, y+4, stroke{ink, 1.5, nil}, ""),
			rect{box: box{x - 4, y - 4, 8, 8}, fill: fill{colour: ink}})
	} else {
		d.add(rect{box: box{x - 4.5, y - 4.5, 9, 9}, fill: fill{colour: ink}}, rect{box: box{x - 2.5, y - 2.5, 5, 5}, fill: fill{colour: paper}})
	}
	number := digits(float64(f.Value), ladder.Places(f))
	half := textWidth(number, 13, true) / 2
	at := math.Max(p.left+half+2, math.Min(x, p.right-half-2))
	d.add(words{at: point{at, top + 32}, text: number, size: 13, bold: true, anchor: middle, colour: ink, halo: true})
	if m := f.Stock; m != nil && m.ChangePct.Known() {
		text, colour := signed(float64(m.ChangePct))+"\u00a0%", quiet
		if m.Real != nil && *m.Real {
			switch better := (m.ChangePct > 0) == (f.Better == ladder.More); {
			case f.Better == ladder.Neither:
				text, colour = "◆ "+text, ink
			case better:
				text, colour = "▲ "+text, other1
			default:
				text, colour = "▼ "+text, temperature
			}
		}
		half = textWidth(text, 12, false) / 2
		at = math.Max(p.left+half+2, math.Min(x, p.right-half-2))
		d.add(words{at: point{at, top + 66}, text: text, size: 12, anchor: middle, colour: colour, halo: true})
	}
}

func signed(v float64) string {
	if v > 0 {
		return "+" + digits(v, 1)
	}
	return digits(v, 1)
}
