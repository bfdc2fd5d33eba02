package rig

import (
	"math"
	"math/rand/v2"
)

// Plan is the load that the machine is given: rest once, then load and cooling in turn.
type Plan struct {
	RestS, LoadS, CoolS float64 // s; LoadS 0: it rests for ever
}

// loaded tells whether the plan asks for work at t seconds from the start.
func (p Plan) loaded(t float64) bool {
	t -= p.RestS
	return t >= 0 && p.LoadS > 0 && math.Mod(t, p.LoadS+p.CoolS) < p.LoadS
}

// asked is a share of the time to work, spread over slots of 10 ms.
type asked struct{ share, owed float64 }

// slot says whether to work in the next one.
func (a *asked) slot() bool {
	if a.share == 0 {
		a.owed = 0
		return false
	}
	if a.owed += a.share; a.owed < 1-1e-9 {
		return false
	}
	a.owed--
	return true
}

// demand is what the work asks for: it is never perfectly constant.
type demand struct {
	loaded   bool
	activity float64 // switching activity, 1 is the heaviest
	busy     float64 // busy share, %
	wander   float64 // slow change of the activity, standard deviation 1
}

// advance goes on by 10 ms. The activity wanders by 1.5 % (time constant 0.7 s).
func (d *demand) advance(rng *rand.Rand, loaded bool) {
	keep := math.Exp(-0.01 / 0.7)
	d.wander = keep*d.wander + math.Sqrt(1-keep*keep)*rng.NormFloat64()
	d.loaded = loaded
	if loaded {
		d.activity = min(1, max(0.9, 0.97+0.015*d.wander))
		d.busy = min(100, max(0, 99.3+0.4*d.wander))
	} else {
		d.activity = 0.03 * math.Exp(0.3*d.wander)
		d.busy = min(100, max(0, 1.6+0.6*d.wander))
	}
}
