package report

import (
	"fmt"
	"math"
	"strings"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/server/picture"
)

// none stands where a figure is not known.
const none = "–"

// figure is one row of the table of runs.
type figure struct {
	Name string
	Unit string
	of   func(r run) cell
}

// cell is a figure of one run.
type cell struct {
	Value    string // without the unit; none where it is not known
	Interval string // "27.9 to 28.1", 90 %; "" where there is none
	Why      string // why it is not known, or what is to be said beside it
	Verdict  string // of a change: "real", "not shown", or "" where runs are missing
}

// figures are the rows of the table, in the order of the job: what was achieved, at
// which power and clock, how hot, through which path, held by what.
func figures() []figure {
	return []figure{
		{"Sustained power", "W", func(r run) cell {
			if s := r.result.Steady; s.PowerW.Known() {
				return interval(s.PowerW, analysis.Unknown(), analysis.Unknown(), 1, "")
			}
			p := r.result.PowerStep
			return interval(p.LongW, p.LongLowW, p.LongHighW, 1, p.Why)
		}},
		{"Long-term power limit, as seen", "W", func(r run) cell {
			p := r.result.PowerLimit
			return interval(p.LongW, p.LongLowW, p.LongHighW, 1, p.Why)
		}},
		{"Burst power", "W", func(r run) cell {
			p := r.result.PowerStep
			c := interval(p.ShortW, p.ShortLowW, p.ShortHighW, 1, p.Why)
			if p.ShortIsALimit != nil && !*p.ShortIsALimit {
				c.Why = "a lower bound: the burst was not held by its limit"
			}
			return c
		}},
		{"Burst ended after", "s", burstLength},
		{"Clock under load, mean", "MHz", func(r run) cell {
			return interval(r.result.Averages.ClockMHz, analysis.Unknown(), analysis.Unknown(), 0, "no clock or no load was recorded")
		}},
		{"Clock, 1 % low", "MHz", func(r run) cell {
			return interval(r.result.Averages.ClockLow1Pct, analysis.Unknown(), analysis.Unknown(), 0, "no clock or no load was recorded")
		}},
		{"Die over reference, settled", "K", overReference},
		{"Die, highest", "°C", func(r run) cell {
			return interval(r.result.Averages.DieMaxC, analysis.Unknown(), analysis.Unknown(), 0, "no die temperature or no load was recorded")
		}},
		{"Die to reference", "K/W", func(r run) cell {
			p := r.result.ThermalPath
			return resistance(p.RthKPerW, p.RthLowKPerW, p.RthHighKPerW, p.Why)
		}},
		{"Near part (die, paste, mounting)", "K/W", func(r run) cell {
			p := r.result.ThermalPath
			return resistance(p.NearKPerW, p.NearLowKPerW, p.NearHighKPerW, p.Why)
		}},
		{"Far part (block, fins, air)", "K/W", func(r run) cell {
			p := r.result.ThermalPath
			return resistance(p.FarKPerW, p.FarLowKPerW, p.FarHighKPerW, p.Why)
		}},
		{"Power at the limit", "W", func(r run) cell {
			h := r.result.Headroom
			c := interval(h.PowerW, h.PowerLowW, h.PowerHighW, 0, h.Why)
			if h.PowerW.Known() {
				c.Why = fmt.Sprintf("at %.0f °C, %s", float64(h.LimitC), map[string]string{"given": "your limit", "reported": "the reported limit", "assumed": "an assumed limit"}[h.LimitSource])
			}
			return c
		}},
	}
}

// interval writes a figure with its 90 % interval, where both ends are known and the
// figure lies between them.
func interval(n, low, high analysis.Number, places int, why string) cell {
	if !n.Known() {
		if why == "" {
			why = "not known"
		}
		return cell{Value: none, Why: why}
	}
	c := cell{Value: number(float64(n), places)}
	if low.Known() && high.Known() && low <= n && n <= high {
		c.Interval = number(float64(low), places) + " to " + number(float64(high), places)
	}
	return c
}

// resistance is interval for K/W: large machines have hundredths of them.
func resistance(n, low, high analysis.Number, why string) cell {
	if n < 0.2 {
		return interval(n, low, high, 3, why)
	}
	return interval(n, low, high, 2, why)
}

// number writes a value with a real minus.
func number(v float64, places int) string {
	text := fmt.Sprintf("%.*f", places, math.Abs(v))
	if v < 0 && strings.ContainsAny(text, "123456789") {
		return "−" + text
	}
	return text
}

// burstLength is from the start of the load to the end of its burst.
func burstLength(r run) cell {
	p := r.result.PowerStep
	if p.Found {
		for _, l := range r.result.Load {
			if l.StartS <= p.TimeS && p.TimeS <= l.EndS {
				return cell{Value: number(float64(p.TimeS-l.StartS), 1)}
			}
		}
	}
	return interval(analysis.Unknown(), 0, 0, 0, p.Why)
}

// overReference is the settled temperature, or its forecast, over the reference.
func overReference(r run) cell {
	s, ref := r.result.Steady, r.result.ThermalPath.ReferenceC
	c := interval(s.ForecastC-ref, s.ForecastLowC-ref, s.ForecastHighC-ref, 1, s.Why)
	if c.Value == none {
		c = interval(s.TemperatureC-ref, analysis.Unknown(), analysis.Unknown(), 1, s.Why)
	}
	if c.Value != none && !s.Reached {
		c.Why = "forecast: it had not settled"
	}
	return c
}

// kinds are the limiters in the order of the table.
var kinds = []analysis.Kind{analysis.PowerLong, analysis.PowerShort, analysis.Thermal, analysis.Clock, analysis.Current, analysis.Other}

// heldFor is how long each limiter held a run, s, idle time apart.
func heldFor(r run) (by map[analysis.Kind]float64, sum float64) {
	by = map[analysis.Kind]float64{}
	for _, s := range r.result.Limiter {
		if s.Kind != analysis.Idle && s.StartS.Known() && s.EndS.Known() {
			by[s.Kind] += float64(s.EndS - s.StartS)
			sum += float64(s.EndS - s.StartS)
		}
	}
	return by, sum
}

// row is one row of a table in words.
type row struct {
	Name  string
	Unit  string
	Cells []cell
}

// rows is the table of runs: scores, figures, and the time that each limiter held.
func (r *Report) rows() []row {
	runs := r.all()
	out := r.scores(runs)
	for _, f := range figures() {
		line := row{Name: f.Name, Unit: f.Unit}
		for _, run := range runs {
			line.Cells = append(line.Cells, f.of(run))
		}
		out = append(out, line)
	}
	for _, k := range kinds {
		line, any := row{Name: "Held by " + picture.LimiterTitle(k), Unit: "s"}, false
		for _, run := range runs {
			by, sum := heldFor(run)
			c := cell{Value: number(by[k], 1)}
			if sum > 0 && by[k] > 0 {
				any = true
				c.Interval = number(100*by[k]/sum, 0) + " % of the load"
				if by[k] < 0.01*sum {
					c.Interval = "under 1 % of the load"
				}
			}
			line.Cells = append(line.Cells, c)
		}
		if any {
			out = append(out, line)
		}
	}
	return out
}

// scores are the rows of what the runs achieved, by name and unit.
func (r *Report) scores(runs []run) []row {
	var out []row
	for i, run := range runs {
		for _, s := range run.Trace.Scores {
			name, unit := clean(s.Name), clean(s.Unit)
			if s.HigherIsBetter {
				name += " (more is better)"
			} else {
				name += " (less is better)"
			}
			k := 0
			for k < len(out) && (out[k].Name != name || out[k].Unit != unit) {
				k++
			}
			if k == len(out) {
				cells := make([]cell, len(runs))
				for c := range cells {
					cells[c] = cell{Value: none, Why: "no score was noted"}
				}
				out = append(out, row{Name: name, Unit: unit, Cells: cells})
			}
			if c := &out[k].Cells[i]; c.Value == none {
				*c = cell{Value: fmt.Sprintf("%.6g", s.Value)}
			} else {
				c.Value += ", " + fmt.Sprintf("%.6g", s.Value)
			}
		}
	}
	return out
}

// change is one row of the table of changes against the first setup.
type change struct {
	Name  string
	Unit  string
	Cells []cell
}

// changeRows lays out the metrics of the comparisons.
func (r *Report) changeRows() []change {
	var out []change
	at := func(name, unit string) *change {
		for i := range out {
			if out[i].Name == name && out[i].Unit == unit {
				return &out[i]
			}
		}
		cells := make([]cell, len(r.changes))
		for i := range cells {
			cells[i] = cell{Value: none, Why: "one side has no value"}
		}
		out = append(out, change{name, unit, cells})
		return &out[len(out)-1]
	}
	for i, c := range r.changes {
		for _, m := range c.Metrics {
			at(m.Name, m.Unit).Cells[i] = changeCell(m)
		}
	}
	return out
}

func changeCell(m compare.Metric) cell {
	c := cell{Value: none, Why: m.Why}
	if m.ChangePct.Known() {
		sign := ""
		if m.ChangePct >= 0.05 {
			sign = "+"
		}
		c.Value = sign + number(float64(m.ChangePct), 1) + " %"
	}
	if m.LowPct.Known() && m.HighPct.Known() {
		c.Interval = number(float64(m.LowPct), 1) + " to " + number(float64(m.HighPct), 1) + " %"
	}
	switch {
	case m.Real == nil:
		c.Why = "" // one run a side: said once, among the warnings
	case *m.Real:
		c.Verdict = "real"
	default:
		c.Verdict = "not shown"
	}
	return c
}
