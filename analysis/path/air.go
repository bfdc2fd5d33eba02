package path

import (
	"math"

	"soakline/analysis/series"
)

// air is what moves the heat off the slow stage: its conductance goes with
// exp(curve z), where z is ln of the fan's speed where that is recorded, else how far
// the die is above FanFromC, in tens of kelvin, at which most fans speed up. The slow
// stage stands for z = now.
type air struct {
	recorded   bool
	now        float64
	die        float64 // degC at that state
	slope      float64 // of z in K of die temperature, where the fan is recorded
	low, high  float64 // of z
	from       float64 // degC
	end, power float64 // s, W: the last row under load, power held there
}

// state is z for a die temperature in degC.
func (a *air) state(die float64) float64 {
	if !a.recorded {
		return math.Max(die-a.from, 0) / 10
	}
	return math.Min(math.Max(a.now+a.slope*(die-a.die), a.low), a.high)
}

func newAir(d []row, th Thresholds) air {
	a := air{from: th.FanFromC, recorded: true}
	n := 0
	for i := range d {
		if series.Known(d[i].fan) {
			n++
		}
	}
	a.recorded = 2*n > len(d)
	last := d[len(d)-1].since
	top := 0.0 // rows under load count
	for i := range d {
		top = math.Max(top, d[i].x[restNode])
	}
	var w, z, t, zz, tt float64
	end := -1
	for i := range d {
		if d[i].x[restNode] > 0.6*top {
			end = i
		}
	}
	last = d[end].since
	a.end, a.power = last, d[end].x[heldNode]
	for i := range d[:end+1] {
		if d[i].since > last-math.Max(20, last/20) && d[i].x[restNode] > 0.6*top {
			w, t = w+d[i].dt, t+d[i].dt*d[i].lagged
		}
	}
	a.die = t / w
	for i := range d {
		d[i].z = a.state(d[i].lagged)
	}
	a.now = a.state(a.die)
	if !a.recorded {
		return a
	}
	known := math.NaN()
	for i := range d {
		if series.Known(d[i].fan) {
			known = math.Log(math.Max(d[i].fan, 100))
		}
		d[i].z = known
	}
	for i := len(d) - 1; i >= 0; i-- {
		if !series.Known(d[i].z) {
			d[i].z = known
		}
		known = d[i].z
	}
	a.low, a.high = math.Inf(1), math.Inf(-1)
	w, t, z = 0, 0, 0
	var zt float64
	for i := range d[:end+1] {
		r := &d[i]
		a.low, a.high = math.Min(a.low, r.z), math.Max(a.high, r.z)
		if r.x[restNode] < 0.6*top {
			continue
		}
		q := r.dt * math.Exp(-math.Abs(r.lagged-a.die)/th.FanNearK)
		w, t, z, tt, zt = w+q, t+q*r.lagged, z+q*r.z, tt+q*r.lagged*r.lagged, zt+q*r.lagged*r.z
	}
	_ = zz
	v := tt/w - t*t/(w*w)
	a.slope = math.Max(zt/w-z*t/(w*w), 0) / (v + 0.5)
	a.now = z/w + a.slope*(a.die-t/w)
	a.high = math.Max(a.high, a.now) + 0.7
	a.low = math.Min(a.low, a.now)
	return a
}

// follow takes the way of a recorded fan to higher temperatures from an earlier trace of
// the machine, which has seen more of it.
func (a *air) follow(was *air) {
	if !a.recorded || !was.recorded {
		return
	}
	a.slope = was.slope
	if d := was.die - a.die; math.Abs(d) > 2 {
		a.slope = math.Max((was.now-a.now)/d, 0)
	}
}
