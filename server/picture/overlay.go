package picture

import (
	"fmt"
	"math"

	"soakline/analysis"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Item is one recording of an overlay.
type Item struct {
	Name   string // untrusted text
	Trace  *telemetry.Trace
	Result analysis.Result
}

// overlayLooks tell recordings apart by colour and dash; more of them begin anew.
var overlayLooks = []stroke{{ink, 1.7, nil}, {temperature, 1.7, []float64{8, 3}}, {clock, 1.7, []float64{2, 3}},
	{other1, 1.7, []float64{12, 3, 2, 3}}, {other2, 1.7, []float64{5, 2}}, {power, 1.7, []float64{1, 3}}}

// Overlay draws several recordings over one another, aligned at the start of the first
// load of each: power, the die over its reference where a reference is measured in all
// of them (else the die itself), and the clock.
func Overlay(items []Item, o Options) *Drawing {
	c := &chart{tr: &telemetry.Trace{}}
	c.ID, c.Width, c.Height = o.ID, o.Width, o.Height
	if !(c.Width > 0) {
		c.Width = usualWidth
	}
	if !(c.Height > 0) {
		c.Height = 640
	}
	c.Title = "Power, temperature and clock of the recordings over one another, aligned at the start of load."
	from, to := math.Inf(1), math.Inf(-1)
	for _, it := range items {
		c.tr.Simulated = c.tr.Simulated || it.Trace.Simulated || it.Result.Simulated
		if n := len(it.Trace.Time); n > 0 {
			zero := loadStart(it)
			from, to = math.Min(from, it.Trace.Time[0]-zero), math.Max(to, it.Trace.Time[n-1]-zero)
		}
	}
	c.plans = overlayPlans(items)
	c.y = 8
	c.heading(Options{Heading: o.Heading})
	if len(c.plans) == 0 || !(from < to) {
		c.nothing()
		return &c.Drawing
	}
	c.tr.Time = []float64{math.Max(from, -60), to}
	for k, it := range items {
		text := tidy(it.Name, 80)
		c.key = append(c.key, entry{stroke: overlayLooks[k%len(overlayLooks)], text: text, width: 48 + textWidth(text, textSize, false)})
	}
	c.y -= 24 // no marks hang here
	c.place()
	c.ground()
	x := c.span.X(0)
	c.add(upright(x, c.lanes, c.foot, stroke{quiet, 1, []float64{1, 3}}, atTime(0)))
	c.taken = append(c.taken, box{x - 2, c.lanes, 4, c.foot - c.lanes})
	c.lines()
	c.add(words{at: point{x + 4, c.lanes + 12}, text: "load starts", size: textSize, colour: quiet, halo: true, tag: atTime(0)})
	c.legend(c.foot + 30)
	c.zoom()
	return &c.Drawing
}

// loadStart is where the first load begins; the first sample where there is none.
func loadStart(it Item) float64 {
	if len(it.Result.Load) > 0 && it.Result.Load[0].StartS.Known() {
		return float64(it.Result.Load[0].StartS)
	}
	if len(it.Trace.Time) > 0 {
		return it.Trace.Time[0]
	}
	return 0
}

func overlayPlans(items []Item) []lanePlan {
	over := true
	for _, it := range items {
		over = over && it.Trace.Index(telemetry.RoleAmbient) >= 0
	}
	all := []lanePlan{{id: "power", title: "Power", unit: "W", fromZero: true, share: 0.3},
		{id: "over", title: "Die over its reference", unit: "K", fromZero: true, share: 0.45},
		{id: "clock", title: "Clock", unit: "MHz", fromZero: true, share: 0.25}}
	if !over {
		all[1] = lanePlan{id: "temperature", title: "Die", unit: "°C", share: 0.45}
	}
	var out []lanePlan
	for _, p := range all {
		for k, it := range items {
			if col, ok := overlayColumn(it, p.id); ok {
				p.lines = append(p.lines, linePlan{id: fmt.Sprintf("%s%d", p.id, k), column: col, stroke: overlayLooks[k%len(overlayLooks)]})
			}
		}
		if len(p.lines) > 0 {
			out = append(out, p)
		}
	}
	return out
}

// overlayColumn is a recording's line in a lane, its time from the start of load.
func overlayColumn(it Item, lane string) (column, bool) {
	role, kind := telemetry.RolePower, quantity.Power
	switch lane {
	case "over", "temperature":
		role, kind = telemetry.RoleDie, quantity.Temperature
	case "clock":
		role, kind = telemetry.RoleClock, quantity.Frequency
	}
	p := lanePlan{id: lane}
	p.own(it.Trace, role, kind, ink)
	if len(p.lines) == 0 || len(it.Trace.Time) == 0 {
		return column{}, false
	}
	col := p.lines[0].column
	zero := loadStart(it)
	at, v := make([]float64, len(col.at)), col.v
	for i, t := range col.at {
		at[i] = t - zero
	}
	if lane == "over" {
		ref := it.Trace.Values[it.Trace.Index(telemetry.RoleAmbient)]
		v = make([]float64, len(col.v))
		for i := range v {
			v[i] = col.v[i] - ref[i]
		}
	}
	return column{at, v, col.hole}, true
}
