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

// derivePower adds the power that an energy counter implies, where the trace has no
// power of its own: the difference quotient between two renewals of the counter. A
// repeated count keeps the power of the last renewal; a count that fell (the counter
// wrapped at a width that the file does not tell, or restarted) is a gap.
func derivePower(t *telemetry.Trace) {
	from := t.Index(telemetry.RoleEnergy)
	if from < 0 || t.Index(telemetry.RolePower) >= 0 {
		return
	}
	counter := t.Channels[from]
	values, states := quotients(t.Time, t.Values[from])
	t.States = make([][]telemetry.State, len(t.Channels), len(t.Channels)+1)
	t.States = append(t.States, states)
	t.Values = append(t.Values, values)
	t.Channels = append(t.Channels, telemetry.Channel{
		Key: "power from " + counter.Key, Name: "power from " + counter.Name, Quantity: quantity.Power,
		Role: telemetry.RolePower, Source: counter.Source, Device: counter.Device, Simulated: counter.Simulated,
	})
}

func quotients(at, energy []float64) ([]float64, []telemetry.State) {
	values, states := make([]float64, len(at)), make([]telemetry.State, len(at))
	last := -1 // the sample of the last renewal
	power := math.NaN()
	for i, e := range energy {
		state := telemetry.NoData
		switch {
		case math.IsNaN(e):
			state = telemetry.GapEmpty
		case last < 0:
			last = i
		case e < energy[last]:
			state, power, last = telemetry.GapCounter, math.NaN(), i
		case e == energy[last] || at[i] == at[last]:
			if state = telemetry.Held; math.IsNaN(power) {
				state = telemetry.NoData
			} else if at[i]-at[last] > holdMost {
				state = telemetry.GapStale
			}
		default:
			power, state = (e-energy[last])/(at[i]-at[last]), telemetry.Fresh
			if last = i; math.IsInf(power, 0) {
				power, state = math.NaN(), telemetry.GapImplausible
			}
		}
		values[i], states[i] = power, state
		if !state.Usable() {
			values[i] = math.NaN()
		}
	}
	return values, states
}
