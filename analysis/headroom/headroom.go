// Package headroom says how much power a cooler would carry at a temperature limit.
//
// It takes a plateau and the uncertainty of the path; it knows nothing of how these
// were found, and never changes a limit.
package headroom

import "math"

// Thresholds of the answer.
type Thresholds struct {
	// Curve is the sd of p in rise ~ P^(1+p): below 0 where fans speed up or air moves by
	// itself, above 0 for hot spots, silicon that conducts worse when hot (Glassbrenner,
	// Slack 1964, Phys. Rev. 134:A1058, from memory) and heat pipes near their limit.
	Curve float64
	// Step is the most by which the next try may exceed sustained tested power.
	Step float64
	// LeastRise is the least rise, K, from which a power may be extrapolated.
	LeastRise float64
}

// Defaults are the thresholds in use.
func Defaults() Thresholds { return Thresholds{Curve: 0.2, Step: 1.25, LeastRise: 3} }

// Plateau is a power held until the die settled, or its forecast.
type Plateau struct {
	Power     float64 // W
	Rise      float64 // K above the reference
	RiseLow   float64 // K, 90 % interval
	RiseHigh  float64
	Reference float64 // degC
	Tested    float64 // W, the highest sustained or burst power seen
}

// Room is the answer. NaN is unknown.
type Room struct {
	Power, Low, High float64 // W at the limit
	Next             float64 // W, the most that is advised for the next try
	Why              string
}

const normal90 = 1.6449

// At gives the power at limitC from
//
//	rise = rise_t (P/P_t)^(1+p),  p ~ N(0, Curve)
//
// inverted for P. The interval is that of ln P, from the relative uncertainty of the
// rise and from p times the logarithm of the extrapolation, so that it widens with the
// distance from the tested power. Check (common practice, no source): 45 W at 28 K of
// rise, limit 90 degC in 22 degC air; see the test.
func At(limitC float64, q Plateau, th Thresholds) Room {
	n := math.NaN()
	room := Room{Power: n, Low: n, High: n, Next: n}
	available := limitC - q.Reference
	switch {
	case math.IsNaN(available) || math.IsNaN(q.Rise) || math.IsNaN(q.Power):
		room.Why = "the path of the heat is not known"
		return room
	case q.Rise < th.LeastRise || q.Power <= 0:
		room.Why = "the die has warmed too little to extrapolate from"
		return room
	case available <= 0:
		room.Why = "the reference is already above the limit"
		return room
	}
	u := math.Log(q.RiseHigh/q.RiseLow) / (2 * normal90)
	if !(u >= 0) {
		u = 0.1
	}
	x := math.Log(available / q.Rise) // ln P/P_t for a straight line
	room.Power = q.Power * math.Exp(x)
	room.Low = q.Power * math.Exp(lower(x, u, th.Curve))
	room.High = q.Power * math.Exp(upper(x, u, th.Curve))
	room.Next = math.Min(room.Low, th.Step*q.Power)
	return room
}

// lower and upper solve ln P = (x -+ z u)/(1 +- z' ...) for the bounds: the rise at P
// has the sd sqrt(u^2 + (Curve ln(P/P_t))^2) in its logarithm, so the bound is where
// y +- z sqrt(u^2 + (Curve y)^2) = x.
func lower(x, u, curve float64) float64 { return bound(x, u, curve, 1) }

func upper(x, u, curve float64) float64 { return bound(x, u, curve, -1) }

func bound(x, u, curve, sign float64) float64 {
	f := func(y float64) float64 { return y + sign*normal90*math.Hypot(u, curve*y) - x }
	lo, hi := x-3, x+3
	for range 60 {
		if mid := (lo + hi) / 2; f(mid) > 0 {
			hi = mid
		} else {
			lo = mid
		}
	}
	return (lo + hi) / 2
}
