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

// newAir takes the air's states of all rows, and how they follow the die under load.
func newAir(d []row, th Thresholds) air {
	a := air{from: th.FanFromC, recorded: recorded(d)}
	busy := busyRows(d)
	last := busy[len(busy)-1]
	a.end, a.power = last.since, last.x[heldNode]
	var w, t float64
	for _, r := range busy {
		if r.since > a.end-math.Max(20, a.end/20) {
			w, t = w+r.dt, t+r.dt*r.lagged
		}
	}
	a.die = t / w
	if a.recorded {
		a.course(d, busy, th)
		return a
	}
	for i := range d {
		d[i].z = a.state(d[i].lagged)
	}
	a.now = a.state(a.die)
	return a
}

func recorded(d []row) bool {
	n := 0
	for i := range d {
		if series.Known(d[i].fan) {
			n++
		}
	}
	return 2*n > len(d)
}

// busyRows are the rows under load; there is at least one.
func busyRows(d []row) (out []*row) {
	top := 0.0
	for i := range d {
		top = math.Max(top, d[i].x[restNode])
	}
	for i := range d {
		if d[i].x[restNode] > 0.6*top {
			out = append(out, &d[i])
		}
	}
	return out
}

// course takes the states from a recorded fan, gaps filled with the neighbour, and the
// line by which ln of its speed follows the die near the present temperature. It may
// still double beyond what was seen.
func (a *air) course(d []row, busy []*row, th Thresholds) {
	known := math.NaN()
	for i := range d {
		if series.Known(d[i].fan) {
			known = math.Log(math.Max(d[i].fan, 100))
		}
		d[i].z = known
	}
	a.low, a.high = math.Inf(1), math.Inf(-1)
	for i := len(d) - 1; i >= 0; i-- {
		if !series.Known(d[i].z) {
			d[i].z = known
		}
		known = d[i].z
		if d[i].since <= a.end {
			a.low, a.high = math.Min(a.low, known), math.Max(a.high, known)
		}
	}
	var w, z, t, zt, tt float64
	for _, r := range busy {
		q := r.dt * math.Exp(-math.Abs(r.lagged-a.die)/th.FanNearK)
		w, t, z, tt, zt = w+q, t+q*r.lagged, z+q*r.z, tt+q*r.lagged*r.lagged, zt+q*r.lagged*r.z
	}
	t, z = t/w, z/w
	a.slope = math.Max(zt/w-z*t, 0) / (tt/w - t*t + 0.5)
	a.now = z + a.slope*(a.die-t)
	a.low, a.high = math.Min(a.low, a.now), math.Max(a.high, a.now)+math.Ln2
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
