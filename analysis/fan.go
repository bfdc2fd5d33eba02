package analysis

import (
	"fmt"
	"math"

	"soakline/analysis/series"
)

// A fan counts as stopped where it turned under this load before, and has turned at less
// than fanStill of that for fanFor seconds while the load goes on.
const (
	fanStill = 0.15
	fanFor   = 4.0
	fanLeast = 300.0 // rpm, its mean before
)

// fanStopped is since when the fan stands still under load, s; unknown where it turns, rests
// with the machine, never turned under this load, or is not measured.
func (a *answer) fanStopped() Number {
	n := len(a.load.Spans)
	if n == 0 {
		return Unknown()
	}
	sp, end := a.load.Spans[n-1], a.s[len(a.s)-1].At
	if end-sp.To > a.o.th.Load.Gap {
		return Unknown()
	}
	turned := math.NaN() // rpm, the highest that lasted some seconds
	for i := range a.s[sp.First:sp.Last] {
		p := &a.s[sp.First+i]
		switch {
		case !series.Known(p.Fan):
		case math.IsNaN(turned):
			turned = p.Fan
		case p.Fan > turned:
			turned += (p.Fan - turned) * -math.Expm1(-p.Dt/5)
		}
	}
	since := end
	for i := sp.Last - 1; i >= sp.First && (a.s[i].Fan < fanStill*turned || !series.Known(a.s[i].Fan)); i-- {
		if series.Known(a.s[i].Fan) {
			since = a.s[i].Start()
		}
	}
	if !(turned >= fanLeast) || end-since < fanFor {
		return Unknown()
	}
	a.warn(fmt.Sprintf("the fan stands still since %.0f s: forecast, K/W and headroom are those of the time before", since))
	return Number(since)
}
