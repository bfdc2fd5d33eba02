package limiter

import (
	"math"

	"soakline/analysis/load"
	"soakline/analysis/series"
)

// takeReasons lets the hardware's own word outrank inference. A mask without a limiter
// bit under load says that nothing but the clock holds the chip; at rest the machine is
// idle whatever a stale bit says, but for heat.
func takeReasons(s []series.Sample, ld load.Found, kind []Kind, reported []bool, word func(uint64) (Kind, bool)) {
	busy := make([]bool, len(s))
	for _, sp := range ld.Spans {
		for i := sp.First; i < sp.Last; i++ {
			busy[i] = true
		}
	}
	for i := range s {
		if !s[i].Told {
			continue
		}
		k, some := word(s[i].Reasons)
		switch {
		case !busy[i]:
			if some && (k == Idle || k == Thermal) {
				kind[i], reported[i] = k, true
			}
		case some && k != Idle:
			kind[i], reported[i] = k, true
		case !some && kind[i] != Idle:
			kind[i], reported[i] = Clock, true
		}
	}
}

// join makes spans of equal neighbours; inferred ones shorter than Shortest go to the
// longer neighbour, reported ones stay.
func join(s []series.Sample, kind []Kind, reported []bool, th Thresholds) []Span {
	var out []Span
	for i := range s {
		if n := len(out); n > 0 && out[n-1].Kind == kind[i] && out[n-1].Reported == reported[i] {
			out[n-1].To, out[n-1].last = s[i].At, i+1
			continue
		}
		from := s[i].Start()
		if i == 1 && s[0].Dt == 0 { // the first sample has no length: the second stands for it
			out = out[:0]
		}
		out = append(out, Span{From: from, To: s[i].At, Kind: kind[i], Reported: reported[i], first: i, last: i + 1})
	}
	return absorb(out, th)
}

// absorb gives short inferred spans to a neighbour and joins what became equal.
func absorb(in []Span, th Thresholds) []Span {
	out := in[:0]
	for i, sp := range in {
		short := sp.To-sp.From < th.Shortest-1e-9 && !sp.Reported
		if n := len(out); n > 0 && (short || out[n-1].Kind == sp.Kind && out[n-1].Reported == sp.Reported) {
			out[n-1].To, out[n-1].last = sp.To, sp.last
			continue
		}
		if short && i+1 < len(in) { // the first of all: the next one begins earlier
			in[i+1].From, in[i+1].first = sp.From, sp.first
			continue
		}
		out = append(out, sp)
	}
	return out
}

// rate gives a span its confidence: the softmax of the mean evidence over it. Samples
// are correlated, so their number adds nothing to it.
func rate(sp *Span, ev []evidence, ld load.Found, th Thresholds) {
	sp.Confidence, sp.Second = 0.99, Other
	if sp.Reported {
		sp.Confidence = 1
		return
	}
	if sp.Kind == Idle {
		switch ld.Basis {
		case "":
			sp.Confidence = 0.5
		case "load":
			sp.Confidence = 0.95
		}
		return
	}
	var m evidence
	for i := sp.first; i < sp.last; i++ {
		for k := range m {
			m[k] += ev[i][k] / float64(sp.last-sp.first)
		}
	}
	total, second := 0.0, -1
	for k := range m {
		total += math.Exp(m[k] - m[sp.Kind])
		if Kind(k) != sp.Kind && (second < 0 || m[k] > m[second]) {
			second = k
		}
	}
	sp.Confidence, sp.Second = 1/total, Kind(second)
}
