package step

import (
	"math"
	"slices"

	"soakline/analysis/load"
	"soakline/analysis/series"
)

// Fall is the end of a burst: power drops to a level that then is held.
type Fall struct {
	At        float64 // s
	Level     int     // index into Found.Levels of the level after it
	BurstFrom float64 // s, start of the stretch above that level
	Before    float64 // W, mean of the last part of the burst
	Thermal   bool    // the die stood at its limit
}

// Found is all that the search for falls gives.
type Found struct {
	Levels []Level // of all load spans, by time
	Falls  []Fall
	Why    string // why there are no falls
}

// Find searches all load spans. limitC is the thermal limit at a time, NaN unknown.
func Find(s []series.Sample, spans []load.Span, limitC float64, th Thresholds) Found {
	var f Found
	if len(spans) == 0 {
		f.Why = "no load was seen"
		return f
	}
	longest := 0.0
	f.Why = "no level of power was held for " + seconds(th.Settled) + " under load"
	owner := []load.Span{}
	for _, sp := range spans {
		for _, l := range Levels(s, sp.First, sp.Last, th) {
			f.Levels, owner = append(f.Levels, l), append(owner, sp)
		}
	}
	for k := range f.Levels {
		l := &f.Levels[k]
		if !l.held(th) {
			continue
		}
		if f.add(s, owner[k], k, limitC, th) {
			continue
		}
		if d := l.To - l.From; d > longest {
			longest = d
			f.Why = "power settled at " + watts(l.Power) + " at once, without a burst above it"
		}
	}
	if len(f.Falls) == 0 {
		f.recurring(s, owner, limitC, th)
	}
	f.brief(s, spans, limitC, th)
	if len(f.Falls) > 0 {
		f.Why = ""
	}
	return f
}

// add looks for a fall into level k and keeps it.
func (f *Found) add(s []series.Sample, sp load.Span, k int, limitC float64, th Thresholds) bool {
	reachBack(s, sp.First, &f.Levels[k], th)
	fall, ok := fallInto(s, sp, &f.Levels[k], th)
	if ok {
		fall.Level, fall.Thermal = k, hotAt(s, fall.At, limitC, th)
		f.Falls = append(f.Falls, fall)
	}
	return ok
}

// recurring accepts falls into short levels where the same level comes back often: a
// load whose pauses leave no level long enough.
func (f *Found) recurring(s []series.Sample, owner []load.Span, limitC float64, th Thresholds) {
	for k := range f.Levels {
		if l := &f.Levels[k]; l.To-l.From >= th.Settled/3 && l.Scatter <= th.Pinned {
			f.add(s, owner[k], k, limitC, th)
		}
	}
	all := slices.Clone(f.Falls)
	f.Falls = slices.DeleteFunc(f.Falls, func(a Fall) bool {
		same := 0
		for _, b := range all {
			if p := f.Levels[a.Level].Power; math.Abs(f.Levels[b.Level].Power-p) < th.SameW*p {
				same++
			}
		}
		return same < th.Often
	})
}

// reachBack moves the start of a level to the first of the samples before it that
// already lie on it: a level begins within a block, not at its edge.
func reachBack(s []series.Sample, first int, l *Level, th Thresholds) {
	for l.First > first && math.Abs(s[l.First-1].Power-l.Power) <= th.Leave*l.Power {
		l.First--
		l.From = s[l.First].Start()
	}
}

// fallInto looks for a burst right before level l within its load span.
func fallInto(s []series.Sample, sp load.Span, l *Level, th Thresholds) (Fall, bool) {
	if l.First <= sp.First {
		return Fall{}, false
	}
	start := burstStart(s, sp.First, l, th)
	end := fallEnd(s, l, th)
	if end <= start {
		return Fall{}, false
	}
	burst := s[start:end]
	length := burst[len(burst)-1].At - burst[0].Start()
	mean := series.Mean(burst, series.PowerOf)
	if length < th.Burst || mean < (1+th.Excess)*l.Power {
		return Fall{}, false
	}
	at, before := locate(s, start, l, th)
	f := Fall{At: at, BurstFrom: s[start].Start(), Before: before}
	return f, before >= (1+th.Excess)*l.Power && !ownDoing(s, f, l, th)
}

// burstStart walks back from the level over samples above it; stops shorter than
// 0.25 s below are noise.
func burstStart(s []series.Sample, first int, l *Level, th Thresholds) int {
	start, below := l.First, 0.0
	for i := min(l.First+3, l.Last) - 1; i >= first; i-- {
		if s[i].Power > (1+th.Leave)*l.Power {
			start, below = min(start, i), 0
			continue
		}
		if i >= l.First { // the level itself
			continue
		}
		if below += s[i].Dt; below > 0.25 {
			break
		}
	}
	return start
}

// fallEnd is the first sample from which power stays near the level.
func fallEnd(s []series.Sample, l *Level, th Thresholds) int {
	i := l.First
	for i < l.Last && s[i].Power > (1+th.Leave)*l.Power {
		i++
	}
	for i > 0 && s[i-1].Power <= (1+th.Leave)*l.Power {
		i--
	}
	return i
}

// locate places the fall within a sample: the split of the neighbourhood into two
// constant powers with the least squares, and in the mixed sample the share
// f = (P - after)/(before - after) that still belonged to the burst.
func locate(s []series.Sample, start int, l *Level, th Thresholds) (at, before float64) {
	end := fallEnd(s, l, th)
	lo := end
	for lo > start && s[end-1].At-s[lo-1].Start() <= 1.5 {
		lo--
	}
	if lo == end {
		lo = max(end-1, 0)
	}
	mixed := end - 1 // the last sample above the level may be a mixture
	pure := s[lo:mixed]
	before = series.Mean(pure, series.PowerOf)
	if len(pure) == 0 {
		return s[mixed].At, s[mixed].Power
	}
	if s[mixed].Power > 0.97*before { // it is all burst; the next one may be mixed
		before = series.Mean(s[lo:end], series.PowerOf)
		mixed = min(end, len(s)-1)
	}
	share := (s[mixed].Power - l.Power) / (before - l.Power)
	share = math.Min(math.Max(share, 0), 1)
	return s[mixed].Start() + share*s[mixed].Dt, before
}

// ownDoing is true where the load or the clock say that nothing held the chip back:
// the busy share fell with the power, or the clock did not fall.
func ownDoing(s []series.Sample, f Fall, l *Level, th Thresholds) bool {
	before := series.Within(s, math.Max(f.BurstFrom, f.At-2), f.At)
	after := series.Within(s, f.At+math.Min(0.5, (l.To-f.At)/3), math.Min(l.To, f.At+4))
	lb, la := series.Mean(before, series.LoadOf), series.Mean(after, series.LoadOf)
	if series.Known(lb) && series.Known(la) && lb-la > th.LoadDrop {
		return true
	}
	cb, ca := series.Mean(before, series.ClockOf), series.Mean(after, series.ClockOf)
	return series.Known(cb) && series.Known(ca) && ca > (1-th.ClockDip)*cb
}

// hotAt is true where the die is still at its limit once power has fallen: heat then
// sets the new level. A die that leaves its limit with the fall had been held by heat
// before, and the fall has another cause.
func hotAt(s []series.Sample, at, limitC float64, th Thresholds) bool {
	if !series.Known(limitC) {
		return false
	}
	after := series.Within(s, at+1.5, at+4)
	return len(after) > 0 && series.Mean(after, series.DieOf) >= limitC-th.HotK
}
