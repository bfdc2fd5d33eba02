package coolant

import (
	"fmt"
	"math"
)

// Liquid names what is in the loop.
type Liquid string

// The liquids whose properties are known.
const (
	Water           Liquid = "water"
	EthyleneGlycol  Liquid = "ethylene glycol"  // in water
	PropyleneGlycol Liquid = "propylene glycol" // in water
)

// Coolant is a liquid with the mass fraction of glycol in it, 0 for water.
type Coolant struct {
	Liquid   Liquid
	Fraction float64
}

type point struct{ t, rho, cp float64 } // degC, kg/m3, J/(kg K)

// water is IAPWS SR6-08(2011), liquid water at 0.1 MPa.
var water = []point{
	{5, 999.9660, 4204.92},
	{10, 999.7019, 4195.14},
	{15, 999.1020, 4188.55},
	{20, 998.2065, 4184.19},
	{25, 997.0470, 4181.45},
	{30, 995.6488, 4179.90},
	{35, 994.0327, 4179.27},
	{40, 992.2158, 4179.36},
	{45, 990.2123, 4180.04},
	{50, 988.0345, 4181.23},
	{55, 985.6925, 4182.86},
	{60, 983.1953, 4184.90},
	{70, 977.7640, 4190.12},
	{80, 971.7898, 4196.86},
	{90, 965.3090, 4205.23},
}

// glycols is Melinder 2010, Properties of Secondary Working Fluids for Indirect Systems
// (IIR), by fraction and temperature, 20 to 40 degC.
var glycols = map[Liquid][]struct {
	fraction float64
	at       []point
}{
	EthyleneGlycol: {
		{0.1, []point{{20, 1011.76, 4066.2}, {30, 1008.88, 4073.3}, {40, 1005.09, 4080.5}}},
		{0.2, []point{{20, 1025.20, 3929.2}, {30, 1021.59, 3948.3}, {40, 1017.23, 3966.2}}},
		{0.3, []point{{20, 1038.71, 3737.4}, {30, 1034.30, 3767.9}, {40, 1029.34, 3797.6}}},
		{0.4, []point{{20, 1052.57, 3513.3}, {30, 1047.45, 3554.8}, {40, 1041.91, 3596.4}}},
		{0.5, []point{{20, 1065.98, 3295.2}, {30, 1060.29, 3348.6}, {40, 1054.21, 3402.4}}},
	},
	PropyleneGlycol: {
		{0.2, []point{{20, 1014.74, 4021.3}, {30, 1010.90, 4024.7}, {40, 1006.68, 4031.6}}},
		{0.3, []point{{20, 1024.26, 3912.2}, {30, 1019.34, 3923.9}, {40, 1013.80, 3939.8}}},
		{0.4, []point{{20, 1032.27, 3754.0}, {30, 1026.44, 3772.9}, {40, 1020.00, 3794.9}}},
		{0.5, []point{{20, 1038.79, 3573.6}, {30, 1032.32, 3600.2}, {40, 1025.46, 3628.6}}},
	},
}

// Properties gives density in kg/m3 and heat capacity in J/(kg K) at t degC. Outside the
// tables (water 5 to 90 degC; glycols 20 to 40 degC and their fractions) it is an error:
// nothing is extrapolated.
func (c Coolant) Properties(t float64) (rho, cp float64, err error) {
	if c.Liquid == Water || c.Liquid == "" {
		p, ok := interpolate(water, t)
		if !ok {
			return math.NaN(), math.NaN(), fmt.Errorf("water at %.1f degC is outside the table, 5 to 90 degC", t)
		}
		return p.rho, p.cp, nil
	}
	table, known := glycols[c.Liquid]
	if !known {
		return math.NaN(), math.NaN(), fmt.Errorf("coolant %q is not known; known are %s, %s, %s", c.Liquid, Water, EthyleneGlycol, PropyleneGlycol)
	}
	for i := 1; i < len(table); i++ {
		a, b := table[i-1], table[i]
		if c.Fraction < a.fraction || c.Fraction > b.fraction {
			continue
		}
		lo, ok1 := interpolate(a.at, t)
		hi, ok2 := interpolate(b.at, t)
		if ok1 && ok2 {
			f := (c.Fraction - a.fraction) / (b.fraction - a.fraction)
			return lo.rho + f*(hi.rho-lo.rho), lo.cp + f*(hi.cp-lo.cp), nil
		}
	}
	return math.NaN(), math.NaN(), fmt.Errorf("%s of fraction %.2f at %.1f degC is outside the table, %.1f to %.1f and 20 to 40 degC",
		c.Liquid, c.Fraction, t, table[0].fraction, table[len(table)-1].fraction)
}

// interpolate runs a parabola through the three nearest points: within 0.01 % of the
// steam tables for water between the points of 5 K.
func interpolate(table []point, t float64) (point, bool) {
	n := len(table)
	if !(t >= table[0].t && t <= table[n-1].t) {
		return point{}, false
	}
	i := 1
	for i < n-2 && t > (table[i].t+table[i+1].t)/2 {
		i++
	}
	a, b, c := table[i-1], table[i], table[i+1]
	la := (t - b.t) * (t - c.t) / ((a.t - b.t) * (a.t - c.t))
	lb := (t - a.t) * (t - c.t) / ((b.t - a.t) * (b.t - c.t))
	lc := (t - a.t) * (t - b.t) / ((c.t - a.t) * (c.t - b.t))
	return point{t, la*a.rho + lb*b.rho + lc*c.rho, la*a.cp + lb*b.cp + lc*c.cp}, true
}
