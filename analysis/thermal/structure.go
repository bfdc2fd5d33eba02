package thermal

// Structure is the cumulative structure function: how much heat capacity lies within how
// much resistance from the die (Szekely, Van Bien 1988, Solid-State Electron. 31:1363).
type Structure struct {
	R []float64 // K/W, rising
	C []float64 // J/K, rising
}

// Structure sums the ladder up, a point at the middle of each resistance. From data at
// 10 Hz it is a sketch of two or three steps: no layer can be named by it.
func (c Cauer) Structure() Structure {
	var s Structure
	r, cap := 0.0, 0.0
	for k := range c.R {
		cap += c.C[k]
		s.R, s.C = append(s.R, r+c.R[k]/2), append(s.C, cap)
		r += c.R[k]
	}
	return s
}

// Split divides the resistance by time constant: what answers faster than tau seconds, and
// the rest, K/W.
func (f Foster) Split(tau float64) (near, far float64) {
	for i, r := range f.R {
		if f.Tau[i] < tau {
			near += r
		} else {
			far += r
		}
	}
	return near, far
}
