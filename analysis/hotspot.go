package analysis

import (
	"soakline/analysis/cores"
	"soakline/analysis/series"
)

// hotSpot sets the hottest core against its neighbours.
func (a *answer) hotSpot() HotSpot {
	u := Unknown()
	h := HotSpot{SpreadK: u, SpreadLowK: u, SpreadHighK: u, RestK: u, KPerW: u, LowKPerW: u, HighKPerW: u, TrendK: u, TrendLowK: u, TrendHighK: u,
		EarlierKPerW: u, ChangeKPerW: u, ChangeLowKPerW: u, ChangeHiKPerW: u, Verdict: string(cores.Undetermined)}
	b := &a.o.beside
	at, rest, power, restW, ok := a.stretches()
	if len(b.cores) >= 3 && !ok {
		h.Why = "no load was seen"
		return h
	}
	s := cores.Judge(cores.Load{At: at, Rest: rest, Columns: b.cores, Step: b.coarsest(b.cores...), Power: power, RestW: restW}, a.o.th.Cores)
	h.Verdict, h.Why = string(s.Verdict), s.Why
	if s.Core < 0 {
		return h
	}
	h.Core = a.o.name(b.cores[s.Core])
	h.SpreadK, h.SpreadLowK, h.SpreadHighK = numbers(s.K)
	h.RestK = Number(s.Rest.Value)
	h.KPerW, h.LowKPerW, h.HighKPerW = numbers(s.KPerW)
	h.TrendK, h.TrendLowK, h.TrendHighK = numbers(s.Trend)
	for i := len(a.o.options.Earlier) - 1; i >= 0; i-- {
		e := a.o.options.Earlier[i].HotSpot
		if !e.KPerW.Known() || !series.Known(s.KPerW.Value) {
			continue
		}
		d, change := cores.Against(s.KPerW, cores.Value{Value: float64(e.KPerW), Low: float64(e.LowKPerW), High: float64(e.HighKPerW)}, a.o.th.Cores)
		h.EarlierKPerW, h.Change = e.KPerW, string(change)
		h.ChangeKPerW, h.ChangeLowKPerW, h.ChangeHiKPerW = numbers(d)
		break
	}
	return h
}

func numbers(v cores.Value) (value, low, high Number) {
	return Number(v.Value), Number(v.Low), Number(v.High)
}
