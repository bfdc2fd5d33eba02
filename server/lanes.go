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

// atFirst is how many channels without a role a lane shows unasked.
const atFirst = 3

// lanes sorts the channels into the lanes of the page: what has a meaning first, then
// a few others of the same quantity; what is left is drawn when asked for.
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
	l := wire.Lane{ID: k.id, Title: k.title, Unit: k.quantity.Symbol(), Channels: []int{}, More: []int{}, Limits: []wire.Limit{}}
	for _, role := range k.first {
		if i := telemetry.IndexOf(chs, role); i >= 0 {
			l.Channels = append(l.Channels, i)
		}
	}
	for _, role := range k.limits {
		if i := telemetry.IndexOf(chs, role); i >= 0 {
			l.Limits = append(l.Limits, wire.Limit{Name: string(role), Channel: &i})
		}
	}
	room := len(l.Channels) + atFirst
	for i, c := range chs {
		switch {
		case c.Quantity != k.quantity, slices.Contains(k.first, c.Role), slices.Contains(k.limits, c.Role):
		case c.Role == telemetry.RoleNone && len(l.Channels) < room:
			l.Channels = append(l.Channels, i)
		default:
			l.More = append(l.More, i)
		}
	}
	return l
}

// chartLane lists a lane's lines. Their ids: "c" and the channel's index, "average" for
// the running average of the power, "limit" and the limit's place in the lane.
func chartLane(l wire.Lane, chs []telemetry.Channel, lowest bool) chart.Lane {
	out := chart.Lane{Unit: l.Unit, TimeLabels: lowest, FromZero: l.ID != "temperature"}
	for n, i := range l.Channels {
		kind := chart.Companion
		switch {
		case chs[i].Role == telemetry.RoleAmbient:
			kind = chart.Reference
		case n == 0:
			kind = chart.Measured
		}
		out.Series = append(out.Series, chart.Series{ID: "c" + strconv.Itoa(i), Name: chs[i].Name, Kind: kind})
	}
	if l.ID == "power" && len(l.Channels) > 0 {
		out.Series = append(out.Series, chart.Series{ID: "average", Name: "running average", Kind: chart.Average})
	}
	for n, limit := range l.Limits {
		out.Series = append(out.Series, chart.Series{ID: "limit" + strconv.Itoa(n), Name: limit.Name, Kind: chart.Limit})
	}
	return out
}
