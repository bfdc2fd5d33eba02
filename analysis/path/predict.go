package path

import "math"

// Now is the bank's state at the last sample, for predictions.
type Now struct{ x [gridNodes]float64 }

// at reads the state of a stage of any time constant.
func (n *Now) at(tau float64) float64 {
	v, _ := readAt(math.Log(tau)).from(&n.x)
	return v
}

// End is the temperature above the offset that a path settles at under a constant power,
// K, with the air as it will be by then: reference is the measured one, degC, 0 where
// the offset is absolute.
func (f *Fit) End(d *Path, power, reference float64) float64 {
	rest, slow := (Total(d.R)-d.R[Stages-1])*power, d.R[Stages-1]*power
	at := func(t float64) float64 { // degC if the die were at t
		return rest + slow*math.Exp(-d.Curve*(f.air.state(t)-f.air.now))
	}
	zero := reference + d.Offset
	lo, hi := zero, zero+5*(rest+slow)+1
	for range 50 {
		if mid := (lo + hi) / 2; zero+at(mid) > mid {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo+hi)/2 - zero
}

// Then is the path with the air as it is at a die temperature, degC.
func (f *Fit) Then(d *Path, die float64) Path {
	out, c := *d, math.Exp(d.Curve*(f.air.state(die)-f.air.now))
	out.R[Stages-1] /= c
	out.Tau[Stages-1] /= c
	return out
}

// TimeTo is when, at constant power from now on, the path d is within k kelvin of its
// end, s from the last sample; 0 if it is already there.
func (f *Fit) TimeTo(d *Path, power, k float64) float64 {
	var x [Stages]float64
	for j := range d.R {
		x[j] = f.Now.at(d.Tau[j]) - power
	}
	left := func(t float64) float64 {
		sum := 0.0
		for j := range d.R {
			sum += d.R[j] * x[j] * math.Exp(-t/d.Tau[j])
		}
		return math.Abs(sum)
	}
	if left(0) < k {
		return 0
	}
	lo, hi := 0.0, 1.0
	for left(hi) > k && hi < 1e5 {
		lo, hi = hi, 2*hi
	}
	for range 30 {
		if mid := (lo + hi) / 2; left(mid) > k {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
