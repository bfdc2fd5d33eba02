package server

import (
	"slices"
	"strconv"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
	"soakline/server/wire"
	"soakline/web/chart"
)

// userLimit names the line of the user's own limit.
const userLimit = "your limit"

// laneKind says which channels a lane holds.
type laneKind struct {
	id, title string
	quantity  quantity.Kind
	first     []telemetry.Role // drawn at first, in this order
	limits    []telemetry.Role // lines across the lane
}

var laneKinds = []laneKind{
	{"power", "Power", quantity.Power, []telemetry.Role{telemetry.RolePower},
		[]telemetry.Role{telemetry.RoleLongLimit, telemetry.RoleShortLimit}},
	{"temperature", "Temperature", quantity.Temperature, []telemetry.Role{telemetry.RoleDie, telemetry.RoleAmbient},
		[]telemetry.Role{telemetry.RoleThermalLimit}},
	{"clock", "Clock", quantity.Frequency, []telemetry.Role{telemetry.RoleClock}, nil},
}

// lanes sorts the channels into the lanes of the page: what has a meaning first, then
// the others of the same quantity, which are drawn when asked for.
func lanes(chs []telemetry.Channel, limitC float64) []wire.Lane {
	out := make([]wire.Lane, len(laneKinds))
	for i, k := range laneKinds {
		out[i] = k.lane(chs)
	}
	if limitC > 0 {
		t := &out[1]
		t.Limits = append(t.Limits, wire.Limit{Name: userLimit, Value: &limitC})
	}
	return out
}

func (k laneKind) lane(chs []telemetry.Channel) wire.Lane {
	l := wire.Lane{ID: k.id, Title: k.title, Unit: k.quantity.Symbol(), Channels: []int{}, Shown: []int{}, Limits: []wire.Limit{}}
	for _, role := range k.first {
		if i := telemetry.IndexOf(chs, role); i >= 0 {
			l.Channels = append(l.Channels, i)
			l.Shown = append(l.Shown, i)
		}
	}
	for _, role := range k.limits {
		if i := telemetry.IndexOf(chs, role); i >= 0 {
			l.Limits = append(l.Limits, wire.Limit{Name: string(role), Channel: &i})
		}
	}
	for i, c := range chs {
		if c.Quantity == k.quantity && !slices.Contains(l.Channels, i) && !slices.Contains(k.limits, c.Role) {
			l.Channels = append(l.Channels, i)
		}
	}
	if len(l.Shown) == 0 && len(l.Channels) > 0 { // no role: better one line than none
		l.Shown = l.Channels[:1]
	}
	return l
}

// chartLane lists a lane's lines. Their ids: "c" and the channel's index, "average" for
// the running average of the power, "limit" and the limit's place in the lane.
func chartLane(l wire.Lane, chs []telemetry.Channel, lowest bool) chart.Lane {
	out := chart.Lane{Unit: l.Unit, TimeLabels: lowest, FromZero: l.ID != "temperature"}
	for n, i := range l.Shown {
		kind := chart.Companion
		switch {
		case chs[i].Role == telemetry.RoleAmbient:
			kind = chart.Reference
		case n == 0:
			kind = chart.Measured
		}
		out.Series = append(out.Series, chart.Series{ID: "c" + strconv.Itoa(i), Name: chs[i].Name, Kind: kind})
	}
	if l.ID == "power" && len(l.Shown) > 0 {
		out.Series = append(out.Series, chart.Series{ID: "average", Name: "running average", Kind: chart.Average})
	}
	for n, limit := range l.Limits {
		out.Series = append(out.Series, chart.Series{ID: "limit" + strconv.Itoa(n), Name: limit.Name, Kind: chart.Limit})
	}
	return out
}
