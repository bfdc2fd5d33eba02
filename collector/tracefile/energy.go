package tracefile

import (
	"math"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// holdMost is how long a counter that stands still passes for one that is renewed more
// slowly than it is read; beyond it the power is not known. Drivers renew their counters
// within tens of milliseconds to a second (common practice, no source).
const holdMost = 2.0 // s

// quotient is the power that an energy counter implies, where the trace has no power of
// its own: the difference quotient between two renewals of the counter. A repeated count
// keeps the power of the last renewal; a count that fell (the counter wrapped at a width
// that the file does not tell, or restarted) is a gap. Rows may come in pieces.
type quotient struct {
	from   int // the counter's column
	begun  bool
	at     float64 // of the last renewal
	energy float64
	power  float64
}

// impliedPower finds the counter by the header alone and what the notes before it and the
// user say; nil where there is a power, or no counter.
func (f *reader) impliedPower() *quotient {
	t := &telemetry.Trace{}
	for _, c := range f.columns {
		t.Channels = append(t.Channels, c.channel())
	}
	if assignRoles(t, make([]float64, len(f.columns)), f.notes.roles, f.options.Roles) != nil {
		return nil // said at the end, when what text the columns hold is known
	}
	return implied(t)
}

// implied is the quotient that a trace's channels ask for.
func implied(t *telemetry.Trace) *quotient {
	from := t.Index(telemetry.RoleEnergy)
	if from < 0 || t.Index(telemetry.RolePower) >= 0 {
		return nil
	}
	return &quotient{from: from, power: math.NaN()}
}

// addChannel adds the power's channel behind the others.
func (q *quotient) addChannel(t *telemetry.Trace) {
	counter := t.Channels[q.from]
	power := telemetry.Channel{
		Key: "power from " + counter.Key, Name: "power from " + counter.Name, Quantity: quantity.Power,
		Source: counter.Source, Device: counter.Device, Simulated: counter.Simulated,
	}
	if t.Index(telemetry.RolePower) < 0 {
		power.Role = telemetry.RolePower
	}
	t.Channels = append(t.Channels, power)
}

func (q *quotient) column(at, energy []float64) ([]float64, []telemetry.State) {
	values, states := make([]float64, len(at)), make([]telemetry.State, len(at))
	for i, e := range energy {
		values[i], states[i] = q.next(at[i], e)
	}
	return values, states
}

func (q *quotient) next(at, e float64) (float64, telemetry.State) {
	state := telemetry.NoData
	switch {
	case math.IsNaN(e):
		return math.NaN(), telemetry.GapEmpty
	case !q.begun:
		q.begun, q.at, q.energy = true, at, e
	case e < q.energy:
		state, q.power, q.at, q.energy = telemetry.GapCounter, math.NaN(), at, e
	case e == q.energy || at == q.at:
		if state = telemetry.Held; math.IsNaN(q.power) {
			state = telemetry.NoData
		} else if at-q.at > holdMost {
			state = telemetry.GapStale
		}
	default:
		q.power, state = (e-q.energy)/(at-q.at), telemetry.Fresh
		if q.at, q.energy = at, e; math.IsInf(q.power, 0) {
			q.power, state = math.NaN(), telemetry.GapImplausible
		}
	}
	if !state.Usable() {
		return math.NaN(), state
	}
	return q.power, state
}
