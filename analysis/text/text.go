// Package text writes a Result as plain text for a terminal or a mail: the sentences
// first, then what they rest on. It decides nothing and computes nothing but shares of
// time; every estimate stands with its 90 % interval, and what is not known says why.
package text

import (
	"fmt"
	"io"
	"math"
	"strings"

	"soakline/analysis"
	"soakline/analysis/say"
)

// Write prints r. It returns the first error of w.
func Write(w io.Writer, r analysis.Result) error {
	p := &printer{}
	for _, part := range say.Of(r).Parts {
		p.line("%s", part.Text)
	}
	p.line("")
	p.load(r)
	p.limiter(r)
	p.step(r.PowerStep)
	p.hits(r)
	p.steady(r.Steady)
	p.path(r.ThermalPath)
	p.headroom(r.Headroom)
	p.window(r.BurstWindow)
	p.hotSpot(r.HotSpot)
	p.coolant(r.Coolant)
	p.second(r.SecondHeat)
	p.averages(r.Averages)
	for _, warning := range r.Warnings {
		p.row("warning", "%s", warning)
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}

type printer struct{ b strings.Builder }

func (p *printer) line(format string, a ...any) { fmt.Fprintf(&p.b, format+"\n", a...) }

// row prints a label and its value; a following row of the same label leaves it out.
func (p *printer) row(label, format string, a ...any) {
	fmt.Fprintf(&p.b, "%-16s %s\n", label, fmt.Sprintf(format, a...))
}

func (p *printer) load(r analysis.Result) {
	if len(r.Load) == 0 {
		p.row("load", "none found")
		return
	}
	for _, s := range r.Load {
		p.row("load", "%s to %s, %.1f s", Clock(s.StartS), Clock(s.EndS), float64(s.EndS-s.StartS))
	}
}

// limiter gives the share of the loaded time that each limiter held.
func (p *printer) limiter(r analysis.Result) {
	var total float64
	held := map[analysis.Kind]float64{}
	reported := false
	for _, s := range r.Limiter {
		if s.Kind == analysis.Idle {
			continue
		}
		held[s.Kind] += float64(s.EndS - s.StartS)
		total += float64(s.EndS - s.StartS)
		reported = reported || s.Source == "reported"
	}
	if total == 0 {
		return
	}
	var parts []string
	for _, k := range []analysis.Kind{analysis.PowerLong, analysis.PowerShort, analysis.Thermal, analysis.Clock, analysis.Current, analysis.Other} {
		if held[k] > 0 {
			parts = append(parts, fmt.Sprintf("%s %.1f %%", k, 100*held[k]/total))
		}
	}
	how := "inferred"
	if reported {
		how = "reported by the hardware"
	}
	p.row("held by", "%s of the loaded time (%s)", strings.Join(parts, ", "), how)
}

func (p *printer) step(s analysis.PowerStep) {
	if !s.Found {
		p.row("end of burst", "none found%s", because(s.Why))
		return
	}
	bound := ""
	if s.ShortIsALimit != nil && !*s.ShortIsALimit {
		bound = " (a lower bound: the burst was not held by the short-term limit)"
	}
	p.row("end of burst", "at %s, cause %s", Clock(s.TimeS), word(s.Cause))
	p.row("  burst", "%s%s", Interval(s.ShortW, s.ShortLowW, s.ShortHighW, 1, "W"), bound)
	p.row("  landed at", "%s", Interval(s.LongW, s.LongLowW, s.LongHighW, 1, "W"))
	p.row("  time constant", "%s", Interval(s.TimeConstantS, s.TimeConstantLowS, s.TimeConstantHighS, 1, "s"))
	if s.StatedLongW.Known() || s.StatedShortW.Known() {
		p.row("  stated", "long-term %s, short-term %s, time constant %s", stated(s.StatedLongW, s.LongW, "W"),
			stated(s.StatedShortW, s.ShortW, "W"), stated(s.StatedTimeConstantS, s.TimeConstantS, "s"))
	}
	if s.Why != "" {
		p.row("", "%s", s.Why)
	}
}

// stated is what the hardware states, and by how much what was seen differs.
func stated(s, seen analysis.Number, unit string) string {
	if !s.Known() || !seen.Known() {
		return Value(s, 1, unit)
	}
	return fmt.Sprintf("%s (seen %+.1f %%)", Value(s, 1, unit), 100*float64(seen/s-1))
}

func (p *printer) hits(r analysis.Result) {
	if len(r.ThermalHits) == 0 {
		p.row("thermal limit", "not reached")
		return
	}
	var sum float64
	for _, h := range r.ThermalHits {
		sum += float64(h.EndS - h.StartS)
	}
	times := "once"
	if n := len(r.ThermalHits); n > 1 {
		times = fmt.Sprintf("%d times", n)
	}
	p.row("thermal limit", "reached %s, %.1f s in all, %.1f %% of the load, first at %s", times, sum, float64(r.Averages.ThermalHitsPct), Clock(r.ThermalHits[0].StartS))
}

func (p *printer) steady(s analysis.Steady) {
	switch {
	case s.Reached:
		p.row("steady state", "since %s: %s at %s", Clock(s.SinceS), Value(s.TemperatureC, 1, "degC"), Value(s.PowerW, 1, "W"))
	case s.ForecastC.Known():
		p.row("steady state", "not yet; heading for %s%s", Interval(s.ForecastC, s.ForecastLowC, s.ForecastHighC, 1, "degC"), because(s.Why))
	default:
		p.row("steady state", "undetermined%s", because(s.Why))
	}
}

func (p *printer) path(t analysis.ThermalPath) {
	if !t.RthKPerW.Known() {
		p.row("heat path", "undetermined%s", because(t.Why))
		return
	}
	digits := 2
	if t.RthKPerW < 0.5 {
		digits = 3
	}
	p.row("heat path", "%s to the reference, %s (%s)", Interval(t.RthKPerW, t.RthLowKPerW, t.RthHighKPerW, digits, "K/W"),
		Value(t.ReferenceC, 1, "degC"), t.ReferenceSource)
	if t.NearKPerW.Known() {
		p.row("  near part", "%s", Interval(t.NearKPerW, t.NearLowKPerW, t.NearHighKPerW, digits, "K/W"))
		p.row("  far part", "%s", Interval(t.FarKPerW, t.FarLowKPerW, t.FarHighKPerW, digits, "K/W"))
	} else {
		p.row("  near and far", "undetermined%s", because(t.Why))
	}
	for _, b := range t.Budget {
		if b.Common {
			p.row("", "not counted: %s, %.2g K/W, the same in every run of this machine", b.What, float64(b.UKPerW))
		} else {
			p.row("", "%.0f %% of the variance: %s, %.2g K/W", float64(b.SharePct), b.What, float64(b.UKPerW))
		}
	}
}

func (p *printer) headroom(h analysis.Headroom) {
	if !h.PowerW.Known() {
		p.row("headroom", "undetermined%s", because(h.Why))
		return
	}
	p.row("headroom", "%s to %s: would carry %s; tested to %s", Value(h.MarginK, 1, "K"), Value(h.LimitC, 0, "degC"),
		Interval(h.PowerW, h.PowerLowW, h.PowerHighW, 1, "W"), Value(h.TestedToW, 1, "W"))
	if h.NextStepW.Known() {
		p.row("  next try", "at most %s. The maker's limits come first; raise in small steps and stay with the machine.", Value(h.NextStepW, 1, "W"))
	}
}

func (p *printer) averages(a analysis.Averages) {
	if a.PowerW.Known() {
		p.row("under load", "power %s, 1 %% low %s", Value(a.PowerW, 1, "W"), Value(a.PowerLow1PctW, 1, "W"))
	}
	if a.ClockMHz.Known() {
		p.row("", "clock %s, 1 %% low %s", Value(a.ClockMHz, 0, "MHz"), Value(a.ClockLow1Pct, 0, "MHz"))
	}
	if a.DieC.Known() {
		p.row("", "die %s, at most %s", Value(a.DieC, 1, "degC"), Value(a.DieMaxC, 1, "degC"))
	}
}

func word(s *string) string {
	if s == nil {
		return "not known"
	}
	return *s
}

func because(why string) string {
	if why == "" {
		return ""
	}
	return ": " + why
}

// Value prints a number with its unit, or "not known".
func Value(n analysis.Number, digits int, unit string) string {
	if !n.Known() {
		return "not known"
	}
	return fmt.Sprintf("%.*f %s", digits, float64(n), unit)
}

// Interval prints an estimate with its 90 % interval, where there is one.
func Interval(n, low, high analysis.Number, digits int, unit string) string {
	if !n.Known() || !low.Known() || !high.Known() {
		return Value(n, digits, unit)
	}
	return fmt.Sprintf("%.*f %s (%.*f to %.*f)", digits, float64(n), unit, digits, float64(low), digits, float64(high))
}

// Clock prints seconds as minutes and seconds, 62.5 as 1:02.5.
func Clock(n analysis.Number) string {
	if !n.Known() {
		return "not known"
	}
	tenths := int64(math.Round(float64(n) * 10))
	m, s, d := tenths/600, tenths/10%60, tenths%10
	if d == 0 {
		return fmt.Sprintf("%d:%02d", m, s)
	}
	return fmt.Sprintf("%d:%02d.%d", m, s, d)
}
