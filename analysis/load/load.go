// Package load finds when the machine was under load: spans of time, from a split of
// power into rest and work, from the busy share where power cannot tell.
//
// It knows nothing of limits or heat.
package load

import (
	"math"

	"soakline/analysis/series"
)

// Thresholds of the load spans.
type Thresholds struct {
	// Ratio is how far apart, as a factor, rest and work must lie in power for the split
	// to count. Below 1.5 a rest with a little background work looks like load.
	Ratio float64
	// RestRatio splits the lower part again: above it there is a deeper rest below.
	RestRatio float64
	// BusyPct is the busy share above which a machine works; common practice, no source.
	BusyPct float64
	// Gap closes pauses: a load with a duty cycle or with waits for disk is one load, s.
	Gap float64
	// Shortest is the shortest load, s: less is background work.
	Shortest float64
	// Duty is the least busy part of a span that was joined over pauses.
	Duty float64
}

// Defaults are the thresholds in use.
func Defaults() Thresholds {
	return Thresholds{Ratio: 1.5, RestRatio: 1.9, BusyPct: 10, Gap: 2.5, Shortest: 2, Duty: 0.3}
}

// Span is a load: samples First..Last-1, from From to To seconds.
type Span struct {
	From, To    float64
	First, Last int
}

// Found is what the search gives.
type Found struct {
	Spans []Span
	Basis string  // "power", "load" or "" where neither can tell
	Cut   float64 // W between rest and work; NaN where the basis is not power
	RestW float64 // W at rest, NaN if no rest was seen
}

// Find looks through the samples.
func Find(s []series.Sample, th Thresholds) Found {
	f := Found{Cut: math.NaN(), RestW: math.NaN()}
	rest, cut, ok := splitPower(s, th)
	hasLoad := known(s, series.LoadOf)
	if ok && (!hasLoad || agrees(s, cut, th)) {
		f.Basis, f.Cut, f.RestW = "power", cut, rest
		f.Spans = spans(s, th, func(p *series.Sample) float64 { return p.Power }, cut)
		return f
	}
	if hasLoad {
		f.Basis = "load"
		f.Spans = spans(s, th, func(p *series.Sample) float64 { return p.Load }, th.BusyPct)
		f.RestW = outside(s, f.Spans)
	}
	return f
}

// outside is the mean power outside all spans.
func outside(s []series.Sample, sp []Span) float64 {
	sum, weight, k := 0.0, 0.0, 0
	for i := range s {
		for k < len(sp) && i >= sp[k].Last {
			k++
		}
		if k < len(sp) && i >= sp[k].First || !series.Known(s[i].Power) {
			continue
		}
		sum += s[i].Power * s[i].Dt
		weight += s[i].Dt
	}
	if weight == 0 {
		return math.NaN()
	}
	return sum / weight
}

func known(s []series.Sample, of func(*series.Sample) float64) bool {
	for i := range s {
		if series.Known(of(&s[i])) {
			return true
		}
	}
	return false
}

// agrees asks whether the busy share confirms that power under the cut is rest: a
// burst and the plateau after it split as well, and both are work.
func agrees(s []series.Sample, cut float64, th Thresholds) bool {
	var low, high, lowT, highT float64
	for i := range s {
		if !series.Known(s[i].Load) || !series.Known(s[i].Power) {
			continue
		}
		if s[i].Power < cut {
			low += s[i].Load * s[i].Dt
			lowT += s[i].Dt
		} else {
			high += s[i].Load * s[i].Dt
			highT += s[i].Dt
		}
	}
	if lowT == 0 || highT == 0 {
		return true
	}
	return low/lowT < th.BusyPct || low/lowT < high/highT/2
}

// spans are the runs of samples above the cut, pauses closed and blips dropped.
func spans(s []series.Sample, th Thresholds, of func(*series.Sample) float64, cut float64) []Span {
	var runs []Span
	var busy []float64
	above := false
	for i := range s {
		v := of(&s[i])
		if !series.Known(v) {
			if s[i].Dt > th.Gap { // nothing known for long: the load does not reach over it
				above = false
			}
			continue
		}
		now := v > cut
		if now && !above {
			from := s[i].Start()
			if n := len(runs); n > 0 && from-runs[n-1].To <= th.Gap {
				// a pause within the load
			} else {
				runs = append(runs, Span{From: from, First: i})
				busy = append(busy, 0)
			}
		}
		if now {
			n := len(runs) - 1
			runs[n].To, runs[n].Last = s[i].At, i+1
			busy[n] += s[i].Dt
		}
		above = now
	}
	var out []Span
	for k, r := range runs {
		if d := r.To - r.From; d >= th.Shortest && busy[k] >= th.Duty*d {
			out = append(out, r)
		}
	}
	return out
}
