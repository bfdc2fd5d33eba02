package picture

import (
	"math"

	"soakline/analysis"
	"soakline/collector/telemetry"
)

// FineLine is one line of a chart in fine steps, for a page that zooms.
type FineLine struct {
	ID    string  `json:"id"`
	Start float64 `json:"start"` // s, of the first step
	Step  float64 `json:"step"`  // s
	Scale float64 `json:"scale"` // Low and High are values times this, rounded
	Low   []*int  `json:"low"`   // null in a gap
	High  []*int  `json:"high"`  // empty where it is Low everywhere
}

// Fine gives the lines of a recording's chart as minimum and maximum in at most n steps
// of time.
func Fine(tr *telemetry.Trace, r analysis.Result, n int) []FineLine {
	if len(tr.Time) == 0 {
		return []FineLine{}
	}
	return fine(plans(tr, r), n)
}

// FineOverlay gives the lines of an overlay in the same way.
func FineOverlay(items []Item, n int) []FineLine { return fine(overlayPlans(items), n) }

func fine(lanes []lanePlan, n int) []FineLine {
	out := []FineLine{}
	for _, p := range lanes {
		scale := 10.0
		if p.id == "clock" {
			scale = 1
		}
		for _, l := range p.lines {
			at := l.column.at
			first, last := at[0], at[len(at)-1]
			step := math.Max((last-first)/float64(n), 1e-3)
			if len(at) > 1 {
				step = math.Max(step, (last-first)/float64(len(at)-1))
			}
			step = math.Ceil(step*1000) / 1000
			out = append(out, fineLine(l, first-step/2, step, int((last-first)/step)+2, scale))
		}
	}
	return out
}

func fineLine(l linePlan, start, step float64, n int, scale float64) FineLine {
	f := FineLine{ID: l.id, Start: math.Round(start*1e4) / 1e4, Step: step, Scale: scale, High: []*int{}}
	flat := true
	for _, b := range l.column.buckets(start, step, n) {
		low, high := whole(b.low*scale), whole(b.high*scale)
		if b.brokeIn {
			for k := len(f.Low) - 1; k >= 0 && f.Low[k] != nil; k = -1 {
				f.Low[k], f.High[k] = nil, nil // a gap shorter than the grid tells stays one
			}
		}
		f.Low, f.High = append(f.Low, low), append(f.High, high)
		flat = flat && (low == nil || *low == *high)
	}
	for n := len(f.Low); n > 0 && f.Low[n-1] == nil; n-- {
		f.Low, f.High = f.Low[:n-1], f.High[:n-1]
	}
	if flat {
		f.High = []*int{}
	}
	return f
}

func whole(v float64) *int {
	if math.IsNaN(v) {
		return nil
	}
	n := int(math.Round(v))
	return &n
}

// zoom says how the drawing can be redrawn for another span.
func (c *chart) zoom() {
	z := &Zoom{From: c.span.From, To: c.span.To, Last: c.span.last, Left: c.span.Left, Right: c.span.Right, Axis: c.foot + c.strip + 18,
		Top: c.lanes, Foot: c.foot, Size: textSize, Lines: []ZoomLine{}}
	for _, p := range c.plans {
		for _, l := range p.lines {
			z.Lines = append(z.Lines, ZoomLine{ID: l.id, Lane: p.lane})
		}
	}
	c.Zoom = z
}
