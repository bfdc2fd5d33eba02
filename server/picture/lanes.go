package picture

import (
	"math"

	"soakline/analysis"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// lanePlan is what one lane shows.
type lanePlan struct {
	id, title, unit string
	fromZero        bool
	share           float64 // of the height of all lanes
	lines           []linePlan
	limits          []limitPlan
	lane            Lane
}

// linePlan is one line: the lane's own comes first.
type linePlan struct {
	id, name string
	channel  int // of the trace
	column   column
	stroke   stroke
	shaded   bool // filled down to the floor of the lane
}

type limitPlan struct {
	name  string
	value float64
}

// plans says what a chart of a recording shows: power with its running average and its
// limits, the die with its reference and its limits, the clock. A lane without a channel
// is left out.
func plans(tr *telemetry.Trace, r analysis.Result) []lanePlan {
	p := lanePlan{id: "power", title: "Power", unit: "W", fromZero: true, share: 0.36}
	p.own(tr, telemetry.RolePower, quantity.Power, power)
	if tau := tauOf(r.PowerStep); len(p.lines) > 0 && tau > 0 {
		p.lines = append(p.lines, linePlan{id: "average", name: "running average", column: average(p.lines[0].column, tau),
			stroke: stroke{ink, 1.3, []float64{6, 3}}})
	}
	p.limitOf(tr, telemetry.RoleLongLimit)
	p.limitOf(tr, telemetry.RoleShortLimit)
	t := lanePlan{id: "temperature", title: "Temperature", unit: "°C", share: 0.4}
	t.own(tr, telemetry.RoleDie, quantity.Temperature, temperature)
	if c := tr.Index(telemetry.RoleAmbient); c >= 0 {
		t.lines = append(t.lines, linePlan{id: "reference", name: tidy(tr.Channels[c].Name, 40), column: columnOf(tr, c), stroke: stroke{other1, 1.2, []float64{2, 3}}})
	}
	t.limitOf(tr, telemetry.RoleThermalLimit)
	if h := r.Headroom; h.LimitC.Known() && h.LimitSource == "given" {
		t.limits = append(t.limits, limitPlan{"your limit", float64(h.LimitC)})
	}
	c := lanePlan{id: "clock", title: "Clock", unit: "MHz", fromZero: true, share: 0.24}
	c.own(tr, telemetry.RoleClock, quantity.Frequency, clock)
	var out []lanePlan
	for _, l := range []lanePlan{p, t, c} {
		if len(l.lines) > 0 {
			out = append(out, l)
		}
	}
	return out
}

// own adds the lane's own line: the channel of the role, else the first of the quantity
// that has none.
func (l *lanePlan) own(tr *telemetry.Trace, role telemetry.Role, kind quantity.Kind, c colour) {
	i := tr.Index(role)
	for k := range tr.Channels {
		if ch := &tr.Channels[k]; i < 0 && ch.Quantity == kind && (ch.Role == telemetry.RoleNone || ch.Role == telemetry.RoleCore) {
			i = k
		}
	}
	if i < 0 {
		return
	}
	l.lines = append(l.lines, linePlan{id: l.id, name: tidy(tr.Channels[i].Name, 40), channel: i, column: columnOf(tr, i), stroke: stroke{c, 1.5, nil}, shaded: l.id == "power"})
}

// limitOf adds the last value of a limit's channel.
func (l *lanePlan) limitOf(tr *telemetry.Trace, role telemetry.Role) {
	i := tr.Index(role)
	if i < 0 {
		return
	}
	for k := len(tr.Values[i]) - 1; k >= 0; k-- {
		if v := tr.Values[i][k]; !math.IsNaN(v) {
			l.limits = append(l.limits, limitPlan{string(role), v})
			return
		}
	}
}

// tauOf is the time constant of the power limiter: as stated, else as found; 0 where
// neither is known.
func tauOf(s analysis.PowerStep) float64 {
	for _, n := range []analysis.Number{s.StatedTimeConstantS, s.TimeConstantS} {
		if n.Known() && n > 0 {
			return float64(n)
		}
	}
	return 0
}

// fit chooses the range of values: power and clock from 0, temperature around what
// there is; limits and the forecast stay in sight.
func (l *lanePlan) fit(r analysis.Result) {
	low, high := math.NaN(), math.NaN()
	for _, line := range l.lines {
		a, b := line.column.extent()
		low, high = least(low, a), most(high, b)
	}
	for _, limit := range l.limits {
		high = most(high, limit.value)
	}
	if s := r.Steady; l.id == "temperature" && s.ForecastHighC.Known() {
		high = most(high, math.Min(float64(s.ForecastHighC), high+10))
	}
	if math.IsNaN(high) {
		low, high = 0, 1
	}
	if l.fromZero {
		low = math.Min(0, low)
	}
	fine := niceStep(math.Max((high-low)*1.1, 1), math.Max(2, (l.lane.Bottom-l.lane.Top)/38)) / 4
	l.lane.Low = low
	if !l.fromZero {
		l.lane.Low = math.Floor((low-fine/2)/fine) * fine
	}
	l.lane.High = math.Max(l.lane.Low+4*fine, math.Ceil((high+(high-l.lane.Low)*0.09)/fine)*fine)
}

func least(a, b float64) float64 {
	if a < b || math.IsNaN(b) {
		return a
	}
	return b
}

func most(a, b float64) float64 {
	if a > b || math.IsNaN(b) {
		return a
	}
	return b
}

// laneColour is the colour of a lane's title.
func laneColour(p *lanePlan) colour {
	switch p.id {
	case "power":
		return power
	case "clock":
		return clock
	}
	return temperature
}
