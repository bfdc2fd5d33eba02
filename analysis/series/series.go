// Package series reduces the rows of a session to what their roles mean and keeps
// them in bounded memory: single samples for the recent past and around every edge of
// power, means over one second and then ten for what is older.
//
// It owns the one place where an energy counter becomes power. It knows nothing of
// loads, limiters or heat.
package series

import "math"

// Sample is one row, or the mean of several, reduced to the roles. NaN is unknown.
type Sample struct {
	At    float64 // s, the end of the interval that the sample stands for
	Dt    float64 // s, its length
	Power float64 // W, mean over the interval where an energy counter gives it
	Die   float64 // degC
	// DieMax is the highest die temperature in the interval, degC.
	DieMax  float64
	Clock   float64 // MHz
	Load    float64 // %
	Ambient float64 // degC
	Fan     float64 // rpm

	LongLimit    float64 // W, as the hardware states it
	ShortLimit   float64 // W
	Window       float64 // s
	ThermalLimit float64 // degC

	Reasons uint64 // the hardware's reason mask
	Told    bool   // Reasons was readable
	edge    bool   // power moved here: keep the neighbourhood single
}

// Start is the beginning of the interval.
func (s *Sample) Start() float64 { return s.At - s.Dt }

// blank is a sample of which nothing is known.
func blank(at, dt float64) Sample {
	n := math.NaN()
	return Sample{At: at, Dt: dt, Power: n, Die: n, DieMax: n, Clock: n, Load: n, Ambient: n, Fan: n,
		LongLimit: n, ShortLimit: n, Window: n, ThermalLimit: n}
}

// Known is true for a number that is neither NaN nor infinite.
func Known(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
