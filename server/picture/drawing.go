package picture

import "strconv"

// Drawing is a picture of shapes in the order of drawing, in pixels from the top left.
type Drawing struct {
	ID            string // a prefix of ids within one HTML page; letters and digits
	Width, Height float64
	Title         string // what it shows, for those who cannot see it
	Zoom          *Zoom  // how time lies on it; nil where it has no time axis
	shapes        []shape
}

// Zoom lets a page redraw the chart for another span of time; the finer lines for it
// come from Fine.
type Zoom struct {
	From  float64    `json:"from"` // s at the left edge of the plot
	To    float64    `json:"to"`   // s at the right edge
	Last  float64    `json:"last"` // s, the last sample: beyond it lies the forecast
	Left  float64    `json:"left"` // px
	Right float64    `json:"right"`
	Axis  float64    `json:"axis"` // px from the top: where the times stand
	Top   float64    `json:"top"`  // px: where the lines of time begin and end
	Foot  float64    `json:"foot"`
	Size  float64    `json:"size"` // of the text, px
	Lines []ZoomLine `json:"lines"`
}

// ZoomLine is a line of the drawing by the id of its FineLine.
type ZoomLine struct {
	ID   string `json:"id"`
	Lane Lane   `json:"lane"`
}

// Lane is how values lie on the drawing: Low at Bottom, High at Top (px).
type Lane struct {
	Top    float64 `json:"top"`
	Bottom float64 `json:"bottom"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
}

// Y is the pixel of a value.
func (l Lane) Y(v float64) float64 {
	return l.Bottom - (v-l.Low)/(l.High-l.Low)*(l.Bottom-l.Top)
}

type point struct{ X, Y float64 }

type box struct{ X, Y, W, H float64 }

// shape is anything that can be drawn both ways.
type shape interface {
	svg(w *svgWriter)
	paint(c *canvas)
}

type anchor uint8

const (
	start anchor = iota
	middle
	end
)

// fill is a colour, a hatch over it, and how opaque both are.
type fill struct {
	colour  colour
	hatch   hatch
	opacity float64 // 0 is 1
}

// stroke is how a line is drawn.
type stroke struct {
	colour colour
	width  float64
	dash   []float64
}

type (
	rect struct {
		box
		fill fill
		tag  string
		tip  string // shown where one points
	}
	// area is a filled polygon.
	area struct {
		points []point
		fill   fill
		tag    string
	}
	// line is one or more polylines: a gap ends one and begins the next. One of a single
	// point is a dot.
	line struct {
		runs   [][]point
		stroke stroke
		tag    string
	}
	words struct {
		at     point
		text   string
		size   float64
		bold   bool
		anchor anchor
		colour colour
		halo   bool // a rim of paper, to be readable over lines
		tag    string
	}
	// clip bounds what follows until unclip.
	clip   struct{ box }
	unclip struct{}
)

func (d *Drawing) add(s ...shape) { d.shapes = append(d.shapes, s...) }

// upright is a vertical line.
func upright(x, from, to float64, s stroke, tag string) line {
	return line{runs: [][]point{{{x, from}, {x, to}}}, stroke: s, tag: tag}
}

// level is a horizontal line.
func level(y, from, to float64, s stroke, tag string) line {
	return line{runs: [][]point{{{from, y}, {to, y}}}, stroke: s, tag: tag}
}

// Tags tell the page's script how a shape moves when the span of time changes.

func atTime(t float64) string { return ` data-t="` + seconds(t) + `"` }

func overTime(a, b float64) string {
	return ` data-a="` + seconds(a) + `" data-b="` + seconds(b) + `"`
}

func seconds(t float64) string { return strconv.FormatFloat(t, 'f', -1, 64) }
