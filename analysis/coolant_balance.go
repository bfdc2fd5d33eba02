package analysis

import "soakline/analysis/balance"

// coolantBalance sets the heat that the loop carries against package power.
func (a *answer) coolantBalance() Coolant {
	u := Unknown()
	c := Coolant{FlowLMin: u, InC: u, OutC: u, HeatW: u, HeatLowW: u, HeatHighW: u, PowerW: u, DifferenceW: u, DifferenceLowW: u, DifferenceHighW: u, OffsetK: u}
	b := &a.o.beside
	if b.flow < 0 || b.in < 0 || b.out < 0 {
		c.Why = balance.Unknown(b.flow >= 0, b.in >= 0, b.out >= 0)
		return c
	}
	liquid, err := balance.Parse(a.o.options.Coolant)
	if err != nil {
		c.Why = err.Error()
		a.warn(c.Why)
		return c
	}
	c.Liquid = string(liquid.Liquid)
	at, rest, power, restW, ok := a.stretches()
	if !ok {
		c.Why = "no load was seen"
		return c
	}
	c.PowerW = Number(power)
	if sp, _ := a.mainLoad(); len(a.s) > 0 {
		c.PowerW = Number(a.meanPower(sp.To-(sp.To-sp.From)/3, sp.To))
	}
	r := balance.Judge(balance.Load{At: at, Rest: rest, Flow: b.flow, In: b.in, Out: b.out, Step: b.coarsest(b.in, b.out),
		Power: float64(c.PowerW), RestW: restW, Liquid: liquid}, a.o.th.Balance)
	c.FlowLMin, c.InC, c.OutC, c.OffsetK = Number(r.FlowLMin), Number(r.InC), Number(r.OutC), Number(r.ZeroedK)
	c.HeatW, c.HeatLowW, c.HeatHighW = Number(r.HeatW), Number(r.LowW), Number(r.HighW)
	c.DifferenceW, c.DifferenceLowW, c.DifferenceHighW = Number(r.DiffW), Number(r.DiffLow), Number(r.DiffHi)
	c.StandsOut, c.Possible, c.Why = r.StandsOut, r.Possible, r.Why
	return c
}
