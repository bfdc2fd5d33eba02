package rig

import (
	"math"
	"testing"
)

// The plate's conductance to the room from published formulas. Free convection from a
// vertical plate, laminar: Nu = 0.68 + 0.670 Ra^(1/4) / (1 + (0.492/Pr)^(9/16))^(4/9)
// (Churchill and Chu 1975, Int. J. Heat Mass Transfer 18:1323, equation quoted from
// memory), properties of air at about 35 degC (handbook values, from memory: kinematic
// viscosity 1.65e-5 m2/s, diffusivity 2.33e-5 m2/s, conductivity 0.0266 W/(m K)).
// Radiation: 4 e s T^3 with e = 0.9 for a dark anodised or painted surface (common
// practice, no source) and s = 5.670374e-8 W/(m2 K4) (CODATA 2018).
func TestPlateConductance(t *testing.T) {
	const area, height = 2 * 0.055, 0.2 // m2, m
	far := Default().Setups[2].Cooling.Far
	free := func(rise float64) float64 {
		const nu, alpha, k = 1.65e-5, 2.33e-5, 0.0266
		ra := 9.81 / (295 + rise/2) * rise * height * height * height / (nu * alpha)
		prandtl := nu / alpha
		nusselt := 0.68 + 0.670*math.Pow(ra, 0.25)/math.Pow(1+math.Pow(0.492/prandtl, 9.0/16), 4.0/9)
		return nusselt * k / height * area
	}
	radiation := func(rise float64) float64 { return 4 * 0.9 * 5.670374e-8 * math.Pow(295+rise/2, 3) * area }
	near(t, "radiation at 25 K", far.Steady, radiation(25), 0.05)
	for _, rise := range []float64{5, 10, 25, 50} {
		plate := far
		plate.Steady = 0
		near(t, "free convection", 1/plate.resistance(0, rise), free(rise), 0.04)
	}
}

// Forced convection: conductance rises with the speed to the power 0.7, and a standing
// fan leaves the steady part.
func TestFanConductance(t *testing.T) {
	far := FarSide{Steady: 0.2, Blown: 2, FanRPM: 3000}
	near(t, "at full speed", 1/far.resistance(3000, 10), 2.2, 1e-12)
	near(t, "at half", 1/far.resistance(1500, 10), 0.2+2*0.61557, 1e-5) // 2^-0.7 = 0.61557
	near(t, "standing", 1/far.resistance(0, 10), 0.2, 1e-12)
}

// The fan's loop takes its time, ends where its curve says and does not hunt.
func TestFanLoop(t *testing.T) {
	var f fan
	f.rest(40)
	for i := range 1200 {
		before := f.rpm
		f.advance(60, i%fanControlHundredMS == 0)
		if d := f.rpm - before; d < -1e-9 || d > 60 {
			t.Fatalf("%.1f s: the fan moves by %.1f rpm in 0.1 s", float64(i)/10, d)
		}
		if i == 10 && f.rpm > 1600 {
			t.Fatalf("%.0f rpm a second after the step: no delay", f.rpm)
		}
	}
	near(t, "end", f.rpm, fanCurve(60), fanDeadRPM/fanCurve(60))
}
