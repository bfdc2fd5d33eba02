package ladder

import (
	"math"

	"soakline/analysis"
	"soakline/analysis/stats"
	"soakline/collector/telemetry"
)

// value is a figure of one run with its 90 % interval; NaN is not known.
type value struct{ v, low, high float64 }

func exact(v float64) value { return value{v, math.NaN(), math.NaN()} }

func of(v, low, high analysis.Number) value { return value{float64(v), float64(low), float64(high)} }

// figure is a figure of merit of one run; stock is the power to which temperatures are
// brought.
type figure struct {
	name, unit string
	better     Better
	of         func(r Run, stock float64) value
}

// fixed are the figures that every run may have, in the order of the table; scores come
// before them.
var fixed = []figure{
	{"throughput", "1/s", More, func(r Run, _ float64) value { return exact(r.loadMean(telemetry.RoleThroughput)) }},
	{"throughput per watt", "1/J", More, func(r Run, _ float64) value {
		return exact(r.loadMean(telemetry.RoleThroughput) / float64(r.Result.Averages.PowerW))
	}},
	{"sustained power", "W", Neither, func(r Run, _ float64) value { return sustained(r) }},
	{"burst length", "s", More, func(r Run, _ float64) value { return exact(burst(r.Result)) }},
	{"mean clock under load", "MHz", More, func(r Run, _ float64) value { return exact(float64(r.Result.Averages.ClockMHz)) }},
	{"1 % low of clock", "MHz", More, func(r Run, _ float64) value { return exact(float64(r.Result.Averages.ClockLow1Pct)) }},
	{"die over reference, settled", "K", Less, func(r Run, _ float64) value { return rise(r.Result) }},
	{"die over reference at stock's power", "K", Less, atPower},
	{"die to reference", "K/W", Less, func(r Run, _ float64) value {
		p := r.Result.ThermalPath
		return of(p.RthKPerW, p.RthLowKPerW, p.RthHighKPerW)
	}},
	{"near part", "K/W", Less, func(r Run, _ float64) value {
		p := r.Result.ThermalPath
		return of(p.NearKPerW, p.NearLowKPerW, p.NearHighKPerW)
	}},
	{"far part", "K/W", Less, func(r Run, _ float64) value {
		p := r.Result.ThermalPath
		return of(p.FarKPerW, p.FarLowKPerW, p.FarHighKPerW)
	}},
	{"hot-spot spread", "K/W", Less, func(r Run, _ float64) value {
		h := r.Result.HotSpot
		return of(h.KPerW, h.LowKPerW, h.HighKPerW)
	}},
	{"fan under load", "rpm", Neither, func(r Run, _ float64) value { return exact(r.loadMean(telemetry.RoleFan)) }},
}

func sustained(r Run) value {
	if p := r.Result.Steady.PowerW; p.Known() {
		return exact(float64(p))
	}
	p := r.Result.PowerStep
	return of(p.LongW, p.LongLowW, p.LongHighW)
}

// burst is from the start of the load to the end of its burst, s.
func burst(r analysis.Result) float64 {
	if p := r.PowerStep; p.Found {
		for _, l := range r.Load {
			if l.StartS <= p.TimeS && p.TimeS <= l.EndS {
				return float64(p.TimeS - l.StartS)
			}
		}
	}
	return math.NaN()
}

// rise is the settled temperature, or its forecast, over the reference, K.
func rise(r analysis.Result) value {
	s, ref := r.Steady, r.ThermalPath.ReferenceC
	if s.ForecastC.Known() {
		return of(s.ForecastC-ref, s.ForecastLowC-ref, s.ForecastHighC-ref)
	}
	return exact(float64(s.TemperatureC - ref))
}

// atPower is the rise brought to another power, as for a straight path: what rises with
// power is scaled, the sensor's offset is not. Its interval is that of the rise.
func atPower(r Run, stock float64) value {
	v, p, off := rise(r.Result), sustained(r).v, 0.0
	if o := r.Result.ThermalPath.OffsetK; o.Known() {
		off = float64(o)
	}
	to := func(rise float64) float64 { return off + (rise-off)*stock/p }
	return value{to(v.v), to(v.low), to(v.high)}
}

// loadMean is the time-weighted mean of a channel over the load; NaN without it.
func (r Run) loadMean(role telemetry.Role) float64 {
	if r.Trace == nil {
		return math.NaN()
	}
	c := r.Trace.Index(role)
	if c < 0 {
		return math.NaN()
	}
	var sum, dt float64
	for i := 1; i < len(r.Trace.Time); i++ {
		t, v := r.Trace.Time[i], r.Trace.Values[c][i]
		if underLoad(r.Result, t) && !math.IsNaN(v) {
			d := t - r.Trace.Time[i-1]
			sum, dt = sum+v*d, dt+d
		}
	}
	return sum / dt
}

func underLoad(r analysis.Result, t float64) bool {
	for _, l := range r.Load {
		if t > float64(l.StartS) && t <= float64(l.EndS) {
			return true
		}
	}
	return false
}

// scoresOf are the figures that the users of these runs noted, by name and unit, each with
// its value per watt where more of it is better.
func scoresOf(runs []Run) []figure {
	var out []figure
	seen := map[[2]string]bool{}
	for _, r := range runs {
		if r.Trace == nil {
			continue
		}
		for _, s := range r.Trace.Scores {
			key := [2]string{s.Name, s.Unit}
			if seen[key] {
				continue
			}
			seen[key] = true
			better := Less
			if s.HigherIsBetter {
				better = More
			}
			out = append(out, figure{s.Name, s.Unit, better, func(r Run, _ float64) value { return exact(r.scored(s.Name, s.Unit)) }})
			if s.HigherIsBetter {
				out = append(out, figure{s.Name + " per watt", s.Unit + "/W", More, func(r Run, _ float64) value {
					return exact(r.scored(s.Name, s.Unit) / float64(r.Result.Averages.PowerW))
				}})
			}
		}
	}
	return out
}

// scored is the mean of a run's scores of a name and unit.
func (r Run) scored(name, unit string) float64 {
	var x []float64
	if r.Trace != nil {
		for _, s := range r.Trace.Scores {
			if s.Name == name && s.Unit == unit {
				x = append(x, s.Value)
			}
		}
	}
	return stats.Mean(x)
}

// kinds are the limiters in the order of the table.
var kinds = []analysis.Kind{analysis.PowerLong, analysis.PowerShort, analysis.Thermal, analysis.Clock, analysis.Current, analysis.Other}

// heldBy is how long each limiter held the runs, as a share of all their load and as the
// mean of a run; limiters that held none are left out.
func heldBy(runs []placed) []Held {
	by, sum := map[analysis.Kind]float64{}, 0.0
	for _, r := range runs {
		for _, s := range r.Result.Limiter {
			if d := float64(s.EndS - s.StartS); s.Kind != analysis.Idle && d > 0 {
				by[s.Kind] += d
				sum += d
			}
		}
	}
	out := []Held{}
	for _, k := range kinds {
		if by[k] > 0 {
			out = append(out, Held{Kind: k, Pct: analysis.Number(100 * by[k] / sum), S: analysis.Number(by[k] / float64(len(runs)))})
		}
	}
	return out
}
