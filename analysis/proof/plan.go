package proof

import "math/rand/v2"

// Phase is a stretch of demand: 0 is idle, 1 all cores at full activity.
type Phase struct{ Until, Demand float64 }

// Plan is what the user does: demand over time, the room, and what went before.
type Plan struct {
	Phases      []Phase
	End         float64 // s
	LoadFrom    float64 // s
	LoadTo      float64
	Room, Drift float64 // degC, K/s
	Before      float64 // s at full load that end RestBefore seconds before the first sample
	RestBefore  float64
	Dips        bool
}

// DrawPlan draws rest, a load of this length, steady, with dips, in a duty cycle or
// wandering, and some cooling. A warm plan follows other work that was not recorded.
func DrawPlan(r *rand.Rand, load float64) Plan {
	p := Plan{Room: uniform(r, 18, 29), LoadFrom: uniform(r, 20, 60)}
	if chance(r, 0.6) {
		p.Drift = uniform(r, -1, 1) / 3600
	}
	if chance(r, 0.25) {
		p.Before, p.RestBefore = uniform(r, 60, 400), uniform(r, 0, 40)
	}
	p.Phases = append(p.Phases, Phase{p.LoadFrom, 0})
	p.LoadTo = p.LoadFrom + load
	demand := uniform(r, 0.75, 1)
	switch k := r.Float64(); {
	case k < 0.6:
	case k < 0.78: // passes with a dip between them
		p.Dips = true
		for t := p.LoadFrom; t < p.LoadTo; {
			t += uniform(r, 25, 90)
			p.Phases = append(p.Phases, Phase{min(t, p.LoadTo), demand})
			if t < p.LoadTo-10 {
				t += uniform(r, 0.4, 5)
				p.Phases = append(p.Phases, Phase{t, 0})
			}
		}
	case k < 0.9: // a duty cycle: busy for most of each period
		p.Dips = true
		length, busy := uniform(r, 3, 15), uniform(r, 0.6, 0.9)
		for t := p.LoadFrom; t < p.LoadTo-length; t += length {
			p.Phases = append(p.Phases, Phase{t + busy*length, demand}, Phase{t + length, 0})
		}
	default: // a demand that wanders, never low
		for t := p.LoadFrom; t < p.LoadTo; {
			t += uniform(r, 1, 8)
			p.Phases = append(p.Phases, Phase{min(t, p.LoadTo), uniform(r, 0.85, 1)})
		}
	}
	p.Phases = append(p.Phases, Phase{p.LoadTo, demand})
	p.End = p.LoadTo + uniform(r, 0, 120)
	p.Phases = append(p.Phases, Phase{p.End, 0})
	return p
}

// demand at t seconds; before the first sample the plan was idle or at work.
func (p *Plan) demand(t float64) float64 {
	if t < 0 {
		if p.Before > 0 && t < -p.RestBefore {
			return 1
		}
		return 0
	}
	for _, ph := range p.Phases {
		if t < ph.Until {
			return ph.Demand
		}
	}
	return 0
}
