package chart

import (
	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
)

// visitor adds what the library's structs cannot say and drops what the page does not
// want.
type visitor struct {
	charts.BaseConfigurationVisitor
}

// line is a series with the fields that the library lacks: no pointer events on a line
// of thousands of points, no emphasis, and flat data [t, v, t, v, ...].
type line struct {
	charts.SingleSeries
	Silent     bool           `json:"silent"`
	Clip       bool           `json:"clip"`
	Emphasis   map[string]any `json:"emphasis"`
	Dimensions [2]string      `json:"dimensions"`
}

func (visitor) VisitSeriesOpt(all charts.MultiSeries) any {
	lines := make([]line, len(all))
	for i, s := range all {
		lines[i] = line{SingleSeries: s, Silent: true, Clip: true,
			Emphasis: map[string]any{"disabled": true}, Dimensions: [2]string{"t", "v"}}
	}
	return lines
}

// VisitTooltipOpt keeps the tooltip inside the chart: the page may be narrow.
func (visitor) VisitTooltipOpt(t opts.Tooltip) any {
	return map[string]any{"show": t.Show, "trigger": t.Trigger, "confine": true, "transitionDuration": 0}
}

func (visitor) Visit(option map[string]any) {
	for _, unused := range []string{"title", "toolbox", "color"} {
		delete(option, unused)
	}
}
