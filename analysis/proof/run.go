package proof

import (
	"math"
	"math/rand/v2"

	"soakline/analysis"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Truth is what the analysis should say of a run. Powers are as the machine's own meter
// shows them, since a limit is set and met by it.
type Truth struct {
	Kind       []analysis.Kind // by sample; "" where it may be called either way
	StepS      float64         // first fall to the long-term limit, s from the first sample; NaN if none
	ShortBinds bool
	PL1, PL2   float64 // W; NaN where never met
	TauS       float64
	FinalC     float64 // die as the sensor would show it, at the end of all settling
	FinalW     float64 // W, at that time
	SettleS    float64 // s from the load's start until within 1 K of it
	RthKW      float64 // (final die - reference) / power
	Machine    *Machine
	Plan       Plan
}

const period = 0.1 // s between samples

// Run records a plan on a machine as a trace and works out its truth.
func Run(r *rand.Rand, m *Machine, p Plan) (*telemetry.Trace, Truth) {
	s := newState(m, p.Room)
	for t := -(p.Before + p.RestBefore); p.Before > 0 && t < 0; t += step {
		s.next(p.demand(t))
	}
	rec := newRecorder(r, m)
	tr := Truth{StepS: math.NaN(), PL1: math.NaN(), PL2: math.NaN(), TauS: m.Tau, Machine: m, Plan: p}
	for t := 0.0; t < p.End; {
		var energy, clock float64
		was := s.kind
		n := int(math.Round(period / step))
		for range n {
			t += step
			s.room = p.Room + p.Drift*t
			before := s.kind
			s.next(p.demand(t))
			energy += s.power / float64(n)
			clock += s.clock / float64(n)
			if before == analysis.PowerShort || before == analysis.Clock {
				if s.kind == analysis.PowerLong && math.IsNaN(tr.StepS) && t > p.LoadFrom+0.2 {
					tr.StepS, tr.ShortBinds = t-period, before == analysis.PowerShort
				}
			}
		}
		kind := s.kind
		if kind != was {
			kind = "" // the sample straddles a change
		}
		tr.Kind = append(tr.Kind, kind)
		if kind == analysis.PowerLong {
			tr.PL1 = m.PL1 * m.Meter
		}
		if kind == analysis.PowerShort {
			tr.PL2 = m.PL2 * m.Meter
		}
		rec.sample(t, energy, clock, s, p.demand(t))
	}
	blurShort(tr.Kind)
	settleTruth(&tr, m, p)
	return rec.trace(), tr
}

// blurShort leaves stays of less than 1 s out of the count: whether they belong to the
// stretch around them is a matter of convention.
func blurShort(kinds []analysis.Kind) {
	for i := 0; i < len(kinds); {
		j := i
		for j < len(kinds) && kinds[j] == kinds[i] {
			j++
		}
		if float64(j-i)*period < 1 {
			for k := i; k < j; k++ {
				kinds[k] = ""
			}
		}
		i = j
	}
}

// settleTruth runs the plan's load on, without end and without drift from its start, and
// reads off where it settles: the mean over the last minute, since a duty cycle swings.
func settleTruth(tr *Truth, m *Machine, p Plan) {
	q := p
	q.Drift = 0
	s := newState(m, p.Room)
	for t := -(p.Before + p.RestBefore); t < 0; t += step {
		s.next(p.demand(t))
	}
	// The load repeats after its own length.
	demand := func(t float64) float64 {
		if t < p.LoadFrom {
			return p.demand(t)
		}
		return p.demand(p.LoadFrom + math.Mod(t-p.LoadFrom, p.LoadTo-p.LoadFrom))
	}
	end := p.LoadFrom + 2400
	var means, powers []float64 // by second
	sum, sumP, n := 0.0, 0.0, 0
	for t := 0.0; t < end; t += step {
		s.next(demand(t))
		sum, sumP, n = sum+s.die(), sumP+s.power, n+1
		if n == 100 {
			means, powers = append(means, sum/100), append(powers, sumP/100)
			sum, sumP, n = 0, 0, 0
		}
	}
	tail := len(means) - 300
	final := mean(means[tail:])
	tr.FinalC, tr.FinalW = final+m.DieOffset, mean(powers[tail:])*m.Meter
	tr.RthKW = (final - p.Room) / tr.FinalW
	last := int(p.LoadFrom)
	for i := last; i+30 < len(means); i++ {
		if math.Abs(mean(means[i:i+30])-final) > 1 {
			last = i + 15
		}
	}
	tr.SettleS = float64(last) - p.LoadFrom
}

func mean(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}

// recorder turns states into the columns of a trace, with all that sensors do to them.
type recorder struct {
	r              *rand.Rand
	m              *Machine
	tr             *telemetry.Trace
	noise          float64 // K, correlated
	powerNoise     float64
	shown, renewed float64
}

func newRecorder(r *rand.Rand, m *Machine) *recorder {
	ch := func(name string, k quantity.Kind, role telemetry.Role) telemetry.Channel {
		return telemetry.Channel{Key: name, Name: name, Quantity: k, Role: role, Source: "proof"}
	}
	tr := &telemetry.Trace{Channels: []telemetry.Channel{
		ch("package power", quantity.Power, telemetry.RolePower), ch("die temperature", quantity.Temperature, telemetry.RoleDie),
		ch("core clock", quantity.Frequency, telemetry.RoleClock), ch("load", quantity.Share, telemetry.RoleLoad)}}
	if m.Renewal > 0 {
		tr.Channels[1].Refresh = 1e9 // ns; Renewal is 0 or 1 s
	}
	if m.HasRef {
		tr.Channels = append(tr.Channels, ch("ambient temperature", quantity.Temperature, telemetry.RoleAmbient))
	}
	if m.HasFan && m.Fan {
		tr.Channels = append(tr.Channels, ch("fan", quantity.Rotation, telemetry.RoleFan))
	}
	tr.Values = make([][]float64, len(tr.Channels))
	return &recorder{r: r, m: m, tr: tr, noise: r.NormFloat64() * m.DieNoise, renewed: -r.Float64()}
}

func (c *recorder) sample(t, power, clock float64, s *state, demand float64) {
	r, m := c.r, c.m
	c.noise = 0.9*c.noise + math.Sqrt(1-0.81)*m.DieNoise*r.NormFloat64()
	c.powerNoise = 0.3*c.powerNoise + math.Sqrt(1-0.09)*0.01*r.NormFloat64()
	if t-c.renewed >= m.Renewal-1e-9 {
		c.renewed = t
		c.shown = math.Round((s.die()+m.DieOffset+c.noise)/m.DieStep) * m.DieStep
	}
	load := 100*demand + 2*r.NormFloat64()
	if demand == 0 {
		load = math.Abs(2 * r.NormFloat64())
	}
	row := []float64{power * m.Meter * (1 + c.powerNoise), c.shown, clock * (1 + 0.003*r.NormFloat64()), min(max(load, 0), 100)}
	if m.HasRef {
		row = append(row, math.Round((s.room+m.RefOffset+0.05*r.NormFloat64())*100)/100)
	}
	if m.HasFan && m.Fan {
		row = append(row, math.Round(s.rpm+10*r.NormFloat64()))
	}
	c.tr.Time = append(c.tr.Time, t-period)
	for i, v := range row {
		if chance(r, 0.001) {
			v = math.NaN()
		}
		c.tr.Values[i] = append(c.tr.Values[i], v)
	}
}

func (c *recorder) trace() *telemetry.Trace { return c.tr }
