package picture

import (
	"fmt"
	"math"

	"soakline/analysis"
)

// widest is the factor between the ends of the interval of the whole way beyond which
// steps would say too little.
const widest = 1.6

// The measures of a stair, px.
const (
	stairWidth  = 460.0
	stairHeight = 250.0
	stairStep   = 96.0
)

// StairKnown is true where the parts of the way are known well enough to draw steps.
func StairKnown(r analysis.Result) bool {
	p := r.ThermalPath
	return p.NearKPerW.Known() && p.FarKPerW.Known() && p.ReferenceC.Known() && stairPower(r) > 0 &&
		!(p.RthHighKPerW.Known() && p.RthLowKPerW.Known() && p.RthHighKPerW > widest*p.RthLowKPerW)
}

func stairPower(r analysis.Result) float64 {
	for _, n := range []analysis.Number{r.Steady.PowerW, r.PowerStep.LongW} {
		if n.Known() && n > 0 {
			return float64(n)
		}
	}
	return 0
}

// stepsOf are the kelvin lost in the near and in the far part at a power.
func stepsOf(r analysis.Result, power float64) [2]float64 {
	return [2]float64{math.Max(0, float64(r.ThermalPath.NearKPerW)*power), math.Max(0, float64(r.ThermalPath.FarKPerW)*power)}
}

// Stair draws the kelvin lost from the die to the block and from there to the reference
// at the settled power, each step labelled in K/W; earlier, where it is given and known,
// as an outline at the same power. name is what the outline is called; untrusted text.
func Stair(r analysis.Result, earlier *analysis.Result, name, id string) *Drawing {
	d := &Drawing{ID: id, Width: stairWidth, Height: stairHeight, Title: "Temperature stair from the die down to the reference"}
	if !StairKnown(r) {
		why := r.ThermalPath.Why
		if why == "" {
			why = "the parts of the way are not known well enough"
		}
		d.Height = 24
		for _, l := range wrapped("No stair, because "+tidy(why, 300)+".", 14, stairWidth-24) {
			d.add(words{at: point{12, d.Height}, text: l, size: 14, colour: ink})
			d.Height += 20
		}
		return d
	}
	p := stairPower(r)
	mine := stepsOf(r, p)
	tallest := mine[0] + mine[1]
	var before [2]float64
	if earlier != nil && StairKnown(*earlier) {
		before = stepsOf(*earlier, p)
		tallest = math.Max(tallest, before[0]+before[1])
	}
	const top, left = 34.0, 14.0
	floor := stairHeight - 34
	if before[0] > 0 {
		floor -= 18
	}
	scale := (floor - top) / tallest
	d.steps(r, mine, p, floor, scale, left)
	if before[0] > 0 {
		y := floor - (before[0]+before[1])*scale
		outline := []point{{left, y}, {left + stairStep, y}, {left + stairStep, y + before[0]*scale}, {left + 2*stairStep, y + before[0]*scale}, {left + 2*stairStep, floor}}
		d.add(line{runs: [][]point{outline}, stroke: stroke{clock, 1.6, []float64{6, 4}}},
			level(stairHeight-12, left, left+26, stroke{clock, 1.6, []float64{6, 4}}, ""),
			words{at: point{left + 32, stairHeight - 8}, text: fitted(tidy(name, 80)+", at the same power", 12.5, false, stairWidth-left-44), size: 12.5, colour: clock})
	}
	return d
}

// steps draws the two steps from the floor up.
func (d *Drawing) steps(r analysis.Result, kelvin [2]float64, power, floor, scale, left float64) {
	path := r.ThermalPath
	ref := float64(path.ReferenceC)
	ohms := [2][3]analysis.Number{{path.NearKPerW, path.NearLowKPerW, path.NearHighKPerW}, {path.FarKPerW, path.FarLowKPerW, path.FarHighKPerW}}
	parts := [2]string{"near: die, paste, mounting", "far: block, fins, air"}
	y := floor - (kelvin[0]+kelvin[1])*scale
	edge := []point{{left, y}, {left + stairStep, y}, {left + stairStep, y + kelvin[0]*scale}, {left + 2*stairStep, y + kelvin[0]*scale}, {left + 2*stairStep, floor}, {stairWidth - 8, floor}}
	free := 0.0
	for i, k := range kelvin {
		h := k * scale
		x := left + float64(i)*stairStep
		d.add(rect{box: box{x, y, stairStep, h}, fill: fill{colour: temperature, opacity: [...]float64{0.85, 0.35}[i]}})
		at := math.Max(free, math.Min(y+h/2-4, floor-30))
		free = at + 40
		lead := left + 2*stairStep + 12
		d.add(level(at, x+stairStep+3, lead, stroke{quiet, 1, []float64{2, 3}}, ""),
			words{at: point{lead + 5, at + 4}, text: fmt.Sprintf("%s · %s", amount(k, 1, "K"), ohm(ohms[i])), size: 13.5, bold: true, colour: ink},
			words{at: point{lead + 5, at + 20}, text: parts[i], size: 12.5, colour: quiet})
		y += h
	}
	die := fmt.Sprintf("die, once settled at %s: %s", amount(power, 1, "W"), amount(ref+kelvin[0]+kelvin[1], 0, "°C"))
	d.add(line{runs: [][]point{edge}, stroke: stroke{ink, 1.6, nil}},
		words{at: point{left, floor - (kelvin[0]+kelvin[1])*scale - 8}, text: die, size: 13, bold: true, colour: ink, halo: true},
		words{at: point{stairWidth - 8, floor + 17}, text: "reference " + amount(ref, 1, "°C"), size: 13, anchor: end, colour: ink})
}

// ohm writes a resistance with its 90 % interval; large machines have hundredths of K/W.
func ohm(n [3]analysis.Number) string {
	places := 2
	if n[0] < 0.2 {
		places = 3
	}
	text := amount(float64(n[0]), places, "K/W")
	if n[1].Known() && n[2].Known() {
		text += fmt.Sprintf(" (%s to %s)", digits(float64(n[1]), places), digits(float64(n[2]), places))
	}
	return text
}
