package compare

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// pulsed is a ladder (the base of thermal_ladders.csv in shape) under a load that comes and
// goes every two minutes; its interface changes by a factor from the middle on.
func pulsed(factor float64) *telemetry.Trace {
	tr := &telemetry.Trace{Values: make([][]float64, 3)}
	for _, c := range []struct {
		name string
		k    quantity.Kind
		r    telemetry.Role
	}{{"package power", quantity.Power, telemetry.RolePower}, {"die", quantity.Temperature, telemetry.RoleDie}, {"room", quantity.Temperature, telemetry.RoleAmbient}} {
		tr.Channels = append(tr.Channels, telemetry.Channel{Key: c.name, Name: c.name, Quantity: c.k, Role: c.r})
	}
	rng := rand.New(rand.NewPCG(5, 6))
	temp := [4]float64{}
	r, c := [4]float64{0.08, 0.3, 0.25, 0.5}, [4]float64{1, 8, 120, 300}
	for i := range 18000 {
		t := float64(i) / 10
		p := 5.0
		if math.Mod(t, 240) > 120 {
			p = 40
		}
		if i == 9000 {
			r[1] *= factor
		}
		for range 10 {
			in := p
			for k := range temp {
				next := 0.0
				if k < 3 {
					next = temp[k+1]
				}
				out := (temp[k] - next) / r[k]
				temp[k] += 0.01 / c[k] * (in - out)
				in = out
			}
		}
		tr.Time = append(tr.Time, t)
		for k, v := range []float64{p, math.Round(2*(22+temp[0]+0.2*rng.NormFloat64())) / 2, 22} {
			tr.Values[k] = append(tr.Values[k], v)
		}
	}
	return tr
}

// TestWithin: an interface that grows by half within a run is told, one that stays is not.
func TestWithin(t *testing.T) {
	same, grown := withinWarnings("A", []Run{{Trace: pulsed(1)}}), withinWarnings("B", []Run{{Trace: pulsed(1.5)}})
	if len(same) != 0 {
		t.Errorf("nothing changed: %v", same)
	}
	if len(grown) != 1 || !strings.Contains(grown[0], "run 1 of B changed while it ran") {
		t.Errorf("not told: %v", grown)
	}
	if got := withinWarnings("A", []Run{{}, {Trace: &telemetry.Trace{}}}); got != nil {
		t.Errorf("from nothing: %v", got)
	}
}
