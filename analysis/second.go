package analysis

import (
	"fmt"
	"math"

	"soakline/analysis/series"
	"soakline/analysis/thermal"
)

// Bounds of the fit of two sources, which costs the product of both.
const (
	pairRows  = 240
	pairShare = 0.05 // of package power: a second source below it is left alone
)

// keptPair is the last transfer term and up to when it looked.
type keptPair struct {
	until float64
	heat  SecondHeat
}

// secondHeat looks at another measured source of heat on the same cooler: what either die
// rises per watt of the other, or why that cannot be said.
func (a *answer) secondHeat() SecondHeat {
	u := Unknown()
	h := SecondHeat{PowerW: u, SharedKPerW: u, SharedLowKPW: u, SharedHighKPW: u}
	b := &a.o.beside
	if b.secondPower < 0 {
		h.Why = "no second power is measured"
		return h
	}
	h.Name = a.o.name(b.secondPower)
	at, rest, power, _, ok := a.stretches()
	if !ok {
		h.Why = "no load was seen"
		return h
	}
	mean := func(blocks []series.TrackBlock) float64 {
		sum, n := 0.0, 0.0
		for _, x := range blocks {
			if v := float64(x.Mean[b.secondPower]); series.Known(v) {
				sum, n = sum+v, n+1
			}
		}
		return sum / n
	}
	second := mean(at)
	h.PowerW = Number(second)
	if !(second > pairShare*power) {
		h.Why = "it gives off too little to matter"
		return h
	}
	moved := second - mean(rest)
	a.warn(fmt.Sprintf("a second source of heat, %s, gave off %.1f W on the average of the load: where it shares the cooler, K/W of the package counts its heat too, and headroom holds for that load alone", h.Name, second))
	if b.secondC < 0 {
		h.Why = "its own temperature is not measured"
		return h
	}
	if math.Abs(moved) < 1 && math.Abs(moved) < 0.1*second {
		h.Why = "its power hardly changed: run one source alone for a while"
		return h
	}
	return a.transfer(h)
}

// transfer fits both sources. It is asked anew as the trace has grown by a tenth.
func (a *answer) transfer(h SecondHeat) SecondHeat {
	start := a.s[0].Start()
	length := math.Max(a.s[len(a.s)-1].At-start, 1)
	grid := start + math.Pow(1.1, math.Floor(math.Log(length)/math.Log(1.1)))
	if k := &a.o.keptPair; k.until == grid {
		power := h.PowerW
		h = k.heat
		h.PowerW = power
		return h
	}
	c, err := thermal.FitPair(a.pair(grid))
	switch {
	case err != nil:
		h.Why = err.Error()
	default:
		h.SharedKPerW, h.SharedLowKPW, h.SharedHighKPW = Number(c.Shared.R), Number(c.Shared.Low), Number(c.Shared.High)
		h.Known, h.Why = c.Known, c.Why
	}
	a.o.keptPair = keptPair{grid, h}
	return h
}

// pair is both powers and temperatures up to a time, in at most pairRows rows.
func (a *answer) pair(until float64) thermal.Pair {
	b := &a.o.beside
	blocks := b.track.Within(a.s[0].Start(), until)
	every := max((len(blocks)+pairRows-1)/pairRows, 1)
	var p thermal.Pair
	for i := 0; i+every <= len(blocks); i += every {
		from, to := blocks[i].From, blocks[i+every-1].To
		part := series.Within(a.s, from, to)
		second := func(column int) float64 {
			sum, n := 0.0, 0.0
			for _, x := range blocks[i : i+every] {
				if v := float64(x.Mean[column]); series.Known(v) {
					sum, n = sum+v, n+1
				}
			}
			return sum / n
		}
		p.At = append(p.At, to)
		p.Power[0], p.Power[1] = append(p.Power[0], series.Mean(part, series.PowerOf)), append(p.Power[1], second(b.secondPower))
		p.Temp[0], p.Temp[1] = append(p.Temp[0], series.Mean(part, series.DieOf)), append(p.Temp[1], second(b.secondC))
	}
	return p
}
