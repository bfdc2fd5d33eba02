package analysis

import (
	"math"

	"soakline/analysis/limiter"
	"soakline/analysis/load"
	"soakline/analysis/series"
	"soakline/analysis/step"
)

// answer works one Result out of the samples: each question is answered once and the
// later ones build on the earlier.
type answer struct {
	o       *Online
	s       []series.Sample
	load    load.Found
	stated  limiter.Stated
	steps   step.Found
	limits  limiter.Limits
	spans   []limiter.Span
	warning []string
}

func newAnswer(o *Online) *answer {
	a := &answer{o: o, s: o.store.Samples()}
	a.load = load.Find(a.s, o.th.Load)
	a.stated = limiter.ReadStated(a.s)
	hot := a.stated.Thermal
	if !series.Known(hot) {
		hot = limiter.LearnThermal(a.s, a.load.Spans, o.th.Limiter)
	}
	a.steps = step.Find(a.s, a.load.Spans, hot, o.th.Step)
	a.limits = limiter.Infer(a.s, a.load.Spans, a.steps, a.stated, o.th.Step, o.th.Limiter)
	a.spans = limiter.Decide(a.s, a.load, a.limits, o.word(), o.th.Limiter)
	return a
}

// word reads a reason mask by the channel's own table; nil where there is none.
func (o *Online) word() func(uint64) (limiter.Kind, bool) {
	if o.options.IgnoreReasons || len(o.bits) == 0 {
		return nil
	}
	rank := map[limiter.Kind]int{limiter.Thermal: 6, limiter.PowerShort: 5, limiter.PowerLong: 4, limiter.Current: 3,
		limiter.Other: 2, limiter.Clock: 1, limiter.Idle: 0}
	return func(mask uint64) (limiter.Kind, bool) {
		best, some := limiter.Idle, false
		for _, b := range o.bits {
			if mask&b.Mask == 0 || b.Limiter == "" {
				continue
			}
			k, known := limiter.ParseKind(b.Limiter)
			if known && (!some || rank[k] > rank[best]) {
				best, some = k, true
			}
		}
		return best, some
	}
}

func (a *answer) result() Result {
	r := Result{Schema: Schema, Channels: a.o.channelInfo(), UntilS: Unknown(), Load: []Span{}, Limiter: []LimiterSpan{}}
	for i := range a.o.channels {
		r.Simulated = r.Simulated || a.o.channels[i].Simulated
	}
	if n := len(a.s); n > 0 {
		r.UntilS = Number(a.s[n-1].At)
	}
	for _, sp := range a.load.Spans {
		r.Load = append(r.Load, Span{Number(sp.From), Number(sp.To)})
	}
	for _, sp := range a.spans {
		r.Limiter = append(r.Limiter, limiterSpan(sp))
	}
	r.PowerStep = a.powerStep()
	r.PowerLimit = a.powerLimit()
	r.ThermalHits = a.thermalHits()
	r.Averages = a.averages(r.ThermalHits)
	a.settle(&r)
	a.budget(&r)
	r.HotSpot = a.hotSpot()
	r.Coolant = a.coolantBalance()
	r.SecondHeat = a.secondHeat()
	r.Detail = a.detail()
	r.Now = a.now(r.PowerStep)
	r.BurstWindow = a.burstWindow(&r)
	r.Warnings = append([]string{}, a.warning...)
	return r
}

// channelInfo lists the channels in their canonical units.
func (o *Online) channelInfo() []ChannelInfo {
	out := make([]ChannelInfo, len(o.channels))
	for i, c := range o.channels {
		out[i] = ChannelInfo{Name: c.Name, Unit: c.Quantity.Unit()}
		if c.Role != "" {
			role := string(c.Role)
			out[i].Role = &role
		}
	}
	return out
}

func limiterSpan(sp limiter.Span) LimiterSpan {
	l := LimiterSpan{StartS: Number(sp.From), EndS: Number(sp.To), Kind: Kind(sp.Kind.String()), Source: "inferred",
		Confidence: Number(math.Round(sp.Confidence*1000) / 1000)}
	if sp.Reported {
		l.Source = "reported"
	}
	if sp.Confidence < 0.7 {
		second := Kind(sp.Second.String())
		l.Second = &second
	}
	return l
}

// warn adds a sentence once.
func (a *answer) warn(text string) {
	for _, w := range a.warning {
		if w == text {
			return
		}
	}
	a.warning = append(a.warning, text)
}
