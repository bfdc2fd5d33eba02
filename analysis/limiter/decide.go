package limiter

import (
	"math"

	"soakline/analysis/load"
	"soakline/analysis/series"
)

// Kind numbers the limiters in the order of contract.md.
type Kind uint8

// The kinds.
const (
	Idle Kind = iota
	Clock
	PowerShort
	PowerLong
	Thermal
	Current
	Other
	kinds
)

var names = [kinds]string{"idle", "clock", "power-short", "power-long", "thermal", "current", "other"}

func (k Kind) String() string { return names[k] }

// ParseKind finds a kind by its name; false if there is none.
func ParseKind(name string) (Kind, bool) {
	for k, n := range names {
		if n == name {
			return Kind(k), true
		}
	}
	return Other, false
}

// Span is what held the chip back from From to To seconds.
type Span struct {
	From, To   float64
	Kind       Kind
	Reported   bool
	Confidence float64
	Second     Kind // the next best explanation
	first      int
	last       int
}

const never = -40.0 // log likelihood of what is excluded

// evidence is the log likelihood of a sample under each kind.
type evidence [kinds]float64

// Decide gives spans that cover all samples without gaps. word reads a reason mask as a
// kind; nil ignores the hardware's reasons.
func Decide(s []series.Sample, ld load.Found, l Limits, word func(uint64) (Kind, bool), th Thresholds) []Span {
	if len(s) == 0 {
		return nil
	}
	kind := make([]Kind, len(s)) // zero is Idle
	ev := make([]evidence, len(s))
	local := windows(s, 1)
	for _, sp := range ld.Spans {
		pauses := pausesIn(s, sp, ld.Cut, th)
		for i := sp.First; i < sp.Last; i++ {
			ev[i] = weigh(&s[i], &local[i], l, pauses[i-sp.First], th)
		}
		viterbi(s[sp.First:sp.Last], ev[sp.First:sp.Last], kind[sp.First:sp.Last], th)
	}
	reported := make([]bool, len(s))
	if word != nil {
		takeReasons(s, ld, kind, reported, word)
	}
	spans := join(s, kind, reported, th)
	for i := range spans {
		rate(&spans[i], ev, ld, th)
	}
	return spans
}

// weigh scores one sample: slack to each limit in units of its own uncertainty, and
// pinning, since a controller flattens the quantity that it controls.
func weigh(p *series.Sample, w *window, l Limits, pause bool, th Thresholds) evidence {
	var e evidence
	for k := range e {
		e[k] = never
	}
	e[Other] = th.Unexplained
	if pause {
		e[Idle] = 0
		return e
	}
	power := w.power
	if series.Known(l.Long) {
		e[PowerLong] = fit(power-l.Long, math.Hypot(th.LongShare*l.Long, l.ULong))
	}
	if series.Known(l.Short) && (l.ShortBinds == nil || *l.ShortBinds || l.Odds != 0) {
		e[PowerShort] = -math.Max(l.Odds, 0)/2 + fit(power-l.Short, math.Hypot(th.ShortShare*l.Short, l.UShort))
		if l.Guessed {
			e[PowerShort] -= th.Guess
		}
	}
	if series.Known(l.Thermal) && series.Known(w.hottest) {
		e[Thermal] = 1 + fit(math.Min(w.hottest-l.Thermal+0.5, 0), th.ThermalK)
	}
	switch {
	case series.Known(w.clock) && w.clock < (1-th.BelowCeiling)*l.Seen:
		// a higher clock was seen
	case series.Known(w.clock) && l.Seen > 0 && l.Odds < 0:
		e[Clock] = fit(math.Min(w.clock-l.Seen, 0), th.ClockShare*l.Seen) + l.Odds/2
	case series.Known(w.clock) && !series.Known(l.Ceiling):
		e[Clock] = th.Unexplained + 1 // a clock is known, its ceiling was never seen
	case series.Known(w.clock):
		e[Clock] = fit(math.Min(w.clock-l.Ceiling, 0), th.ClockShare*l.Ceiling) + fit(w.clockSD, 2*th.ClockShare*l.Ceiling)
	case series.Known(l.Short) && l.ShortBinds == nil:
		e[Clock] = math.Max(e[PowerShort]-0.5, th.Silent) // the clock may have held the burst as well
	default:
		e[Clock] = th.Silent
	}
	return e
}

// fit is the log likelihood, up to its constant, of a deviation under a normal law.
func fit(d, sd float64) float64 {
	return math.Max(-0.5*(d/sd)*(d/sd), never)
}

// pausesIn marks the samples of pauses that last long enough to be named.
func pausesIn(s []series.Sample, sp load.Span, cut float64, th Thresholds) []bool {
	out := make([]bool, sp.Last-sp.First)
	if !series.Known(cut) {
		return out
	}
	for i := sp.First; i < sp.Last; i++ {
		j, d := i, 0.0
		for j < sp.Last && s[j].Power < cut {
			d += s[j].Dt
			j++
		}
		if d >= th.PauseS {
			for k := i; k < j; k++ {
				out[k-sp.First] = true
			}
		}
		if j > i {
			i = j
		}
	}
	return out
}

// viterbi finds the most likely path of a sticky chain: staying costs nothing, leaving
// costs -ln(dt/Stay) (Rabiner 1989, Proc. IEEE 77:257, from memory).
func viterbi(s []series.Sample, ev []evidence, out []Kind, th Thresholds) {
	n := len(s)
	if n == 0 {
		return
	}
	from := make([][kinds]Kind, n)
	var score evidence
	for i := 0; i < n; i++ {
		top := Kind(0)
		for k := range score {
			if score[k] > score[top] {
				top = Kind(k)
			}
		}
		leave := math.Log(math.Min(math.Max(s[i].Dt, 1e-3)/th.Stay, 0.5) / float64(kinds-1))
		best := score[top]
		for k := range score {
			from[i][k] = Kind(k)
			if best+leave > score[k] {
				score[k], from[i][k] = best+leave, top
			}
			score[k] += th.Temper * ev[i][k]
		}
	}
	k := Kind(0)
	for j := range score {
		if score[j] > score[k] {
			k = Kind(j)
		}
	}
	for i := n - 1; i >= 0; i-- {
		out[i] = k
		k = from[i][k]
	}
}
