// Package chart makes the option skeletons of the page's lanes: axes, series with their
// ids, names, colours and line styles, and no data. The page fills each series by its
// id from the binary frames.
//
// Names of series come from sensors and files and are untrusted: they leave here as
// JSON strings that encoding/json has escaped. The library's own HTML output is never
// used, because it would let a name close the script element or become code.
//
// It must not know channels, values or findings.
package chart

import (
	"encoding/json"
	"fmt"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
)

// Lane is one of the lanes that lie under one another on a shared time axis.
type Lane struct {
	Unit   string
	Series []Series
	// FromZero lets the value axis begin at 0; else it follows the data.
	FromZero bool
	// TimeLabels are written under the lowest lane alone.
	TimeLabels bool
}

// Series is one line of a lane.
type Series struct {
	ID   string // by which the page fills it
	Name string // untrusted
	Kind Kind
}

// Kind is what a line is; it decides over colour and dashes, so that a line is known
// without its colour too.
type Kind uint8

// The kinds of line.
const (
	Measured  Kind = iota // the lane's own quantity
	Companion             // another channel of the same quantity
	Average               // the running average that a limiter watches
	Reference             // what a temperature is counted from
	Limit                 // what must not be passed
)

// Colours after M. Okabe and K. Ito, "Color Universal Design", 2008: told apart with
// every common form of colour vision.
const (
	blue       = "#0072B2"
	skyBlue    = "#56B4E9"
	green      = "#009E73"
	orange     = "#E69F00"
	vermillion = "#D55E00"
)

var styles = map[Kind]opts.LineStyle{
	Measured:  {Color: blue, Width: 1, Type: "solid"},
	Companion: {Color: skyBlue, Width: 1, Type: "solid"},
	Average:   {Color: orange, Width: 1, Type: "solid"},
	Reference: {Color: green, Width: 1, Type: "dotted"},
	Limit:     {Color: vermillion, Width: 1, Type: "dashed"},
}

// The lanes share left and right edges, so that one instant stands above the other.
const (
	left   = "64"
	right  = "88"
	top    = "8"
	bottom = "8"
	labels = "28" // room for the time labels
)

// Option is the option skeleton of a lane as JSON.
func Option(l Lane) (json.RawMessage, error) {
	c := charts.NewLine()
	below := bottom
	if l.TimeLabels {
		below = labels
	}
	c.SetGlobalOptions(
		charts.WithAnimation(false),
		charts.WithGridOpts(opts.Grid{Left: left, Right: right, Top: top, Bottom: below}),
		charts.WithXAxisOpts(opts.XAxis{Type: "value",
			AxisLabel: &opts.AxisLabel{Show: opts.Bool(l.TimeLabels)},
			SplitLine: &opts.SplitLine{Show: opts.Bool(false)}}),
		charts.WithYAxisOpts(opts.YAxis{Type: "value", Name: l.Unit, Scale: opts.Bool(!l.FromZero)}),
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Trigger: "axis"}),
		charts.WithLegendOpts(opts.Legend{Show: opts.Bool(false)}),
	)
	for _, s := range l.Series {
		style := styles[s.Kind]
		c.AddSeries(s.Name, []opts.LineData{},
			charts.WithSeriesId(s.ID),
			charts.WithLineChartOpts(opts.LineChart{ShowSymbol: opts.Bool(false), Symbol: "none", Step: step(s.Kind)}),
			charts.WithLineStyleOpts(style),
			charts.WithItemStyleOpts(opts.ItemStyle{Color: style.Color}))
	}
	c.Accept(visitor{})
	c.Validate()
	b, err := json.Marshal(c.JSON())
	if err != nil {
		return nil, fmt.Errorf("chart of %d series: %w", len(l.Series), err)
	}
	return b, nil
}

// step draws what holds until it is changed as steps, and nothing else.
func step(k Kind) any {
	if k == Limit {
		return "end"
	}
	return nil
}
