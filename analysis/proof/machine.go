// Package proof draws random machines whose truth is known and holds the analysis
// against it. Its machines are of another build than those of the simulated rig: five
// thermal stages, another clock law, another limiter loop, warm starts, dips in the load.
//
// It is used by tests alone.
package proof

import (
	"math"
	"math/rand/v2"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// Nodes of the thermal ladder.
const Nodes = 5

// Machine is one draw.
type Machine struct {
	R, C             [Nodes]float64 // K/W and J/K from the die outwards; R[i] leads from node i to i+1, the last to the air
	Room, Drift      float64        // degC, K over 1000 s
	Offset           float64        // K, of the die sensor against the room sensor
	Long, Short, Tau float64        // W, W, s
	LoopS            float64        // s, delay of the limiter's loop
	Thermal          float64        // degC
	IdleW            float64
	Ceiling          float64 // MHz
	Full             float64 // W at the ceiling and 60 degC
	Leak             float64 // share of Full that grows by 1/40 a kelvin
	Rest, Load, Cool float64 // s
	Before           float64 // s of load before the recording, 0: it had rested
	Dips             bool
	DieRefresh       float64 // s
	PowerNoise       float64 // share
	rng              *rand.Rand
}

// Draw makes the machine of a seed.
func Draw(seed uint64) *Machine {
	r := rand.New(rand.NewPCG(seed, 77))
	within := func(a, b float64) float64 { return a * math.Pow(b/a, r.Float64()) }
	m := &Machine{rng: r, Room: 18 + 10*r.Float64(), Offset: 0.5 * r.NormFloat64(), IdleW: within(2, 9), Long: within(15, 90),
		Tau: within(6, 45), LoopS: 0.02 + 0.1*r.Float64(), Thermal: 95 + math.Round(8*r.Float64()), Rest: within(20, 60), Cool: 60,
		Ceiling: within(3000, 5200), PowerNoise: within(0.004, 0.015)}
	m.Drift = 0.4 * r.NormFloat64()
	m.IdleW = math.Min(m.IdleW, m.Long/4)
	m.Short = m.Long * within(1.3, 2.4)
	m.Full = m.Short * within(1.05, 1.5)
	if r.Float64() < 0.3 { // the clock's ceiling holds the burst
		m.Full = m.Long * (1.15 + 0.9*r.Float64()*(m.Short/m.Long-1.15))
	}
	m.Leak = 0.05 + 0.15*r.Float64()
	m.ladder(within, 22+r.Float64()*40)
	if r.Float64() < 0.2 {
		m.Before = within(20, 300)
		m.Rest = within(10, 40)
	}
	m.Dips = r.Float64() < 0.3
	m.DieRefresh = 0.1
	if r.Float64() < 0.4 {
		m.DieRefresh = 1
	}
	return m
}

// ladder draws stages that rise by rise kelvin at the long-term limit.
func (m *Machine) ladder(within func(a, b float64) float64, rise float64) {
	shares := [Nodes]float64{within(0.08, 0.4), within(0.05, 0.2), within(0.05, 0.2), within(0.08, 0.3), within(0.3, 0.8)}
	taus := [Nodes]float64{within(0.15, 0.8), within(0.8, 4), within(4, 15), within(15, 60), within(80, 300)}
	total := 0.0
	for _, s := range shares {
		total += s
	}
	for i := range m.R {
		m.R[i] = shares[i] / total * rise / m.Long
		m.C[i] = taus[i] / m.R[i]
	}
}

// Total is the whole resistance, K/W.
func (m *Machine) Total() (sum float64) {
	for _, r := range m.R {
		sum += r
	}
	return sum
}

// Truth is what happened at each sample.
type Truth struct {
	Held  []string  // limiter kinds
	Die   []float64 // degC
	Hits  []float64 // s, when the average reached the long-term limit
	Start float64   // s, start of the load
	End   float64   // s
}

const dt = 0.01 // s, of the simulation

// state is the machine in motion.
type state struct {
	t       [Nodes]float64
	average float64
	asked   float64 // average as the loop saw it LoopS ago
	noise   float64
	heat    float64 // W, the governor's cap
	clock   float64
	power   float64
	die     float64 // last reading
	dieAt   float64
}

// step goes on by dt and says what held the chip.
func (m *Machine) step(s *state, loaded bool, now float64) string {
	room := m.Room + m.Drift*now/1000
	want := m.Full * (1 + m.Leak*(s.t[0]-60)/40)
	held := "clock"
	p := want
	if !loaded {
		p, held = m.IdleW, "idle"
	} else {
		s.asked += (s.average - s.asked) * dt / m.LoopS
		long := m.Long + math.Max(m.Long-s.asked, 0)*m.Tau/0.1
		s.heat = math.Min(math.Max(s.heat+(m.Thermal-s.t[0])*m.Long*0.5*dt, m.IdleW), 2*m.Full)
		heat := s.heat + 0.05*m.Long*(m.Thermal-s.t[0])
		for _, c := range []struct {
			kind string
			cap  float64
		}{{"power-short", m.Short}, {"power-long", long}, {"thermal", heat}} {
			if c.cap < p {
				p, held = c.cap, c.kind
			}
		}
		if held == "power-long" && long > m.Short {
			held = "power-short"
		}
	}
	s.power = p
	s.clock = 0.2 * m.Ceiling
	if loaded {
		s.clock = m.Ceiling * math.Cbrt(math.Max(p/want, 0.01))
	}
	s.average += (p - s.average) * dt / m.Tau
	flow := p
	for i := range s.t {
		next := room
		if i+1 < Nodes {
			next = s.t[i+1]
		}
		out := (s.t[i] - next) / m.R[i]
		s.t[i] += (flow - out) * dt / m.C[i]
		flow = out
	}
	return held
}

// Run records the machine at 10 Hz.
func (m *Machine) Run() (*telemetry.Trace, Truth) {
	s := state{average: m.IdleW, asked: m.IdleW, heat: 2 * m.Full, dieAt: -9}
	at := m.Room
	for i := Nodes - 1; i >= 0; i-- {
		at += m.R[i] * m.IdleW
		s.t[i] = at
	}
	for t := 0.0; t < m.Before; t += dt {
		m.step(&s, true, 0)
	}
	tr := &telemetry.Trace{Channels: channels(), Values: make([][]float64, 5)}
	tr.Start = tr.Start.Add(0)
	var truth Truth
	truth.Start, truth.End = m.Rest, m.Rest+m.Load
	was := "idle"
	sum, clock, n := 0.0, 0.0, 0
	for k := 0; float64(k)*dt < m.Rest+m.Load+m.Cool; k++ {
		now := float64(k+1) * dt
		held := m.step(&s, m.loaded(now), now)
		if held == "power-long" && was != "power-long" {
			truth.Hits = append(truth.Hits, now)
		}
		was = held
		sum, clock, n = sum+s.power, clock+s.clock, n+1
		if n == 10 {
			m.sample(tr, &truth, &s, now, sum/10, clock/10, held)
			sum, clock, n = 0, 0, 0
		}
	}
	return tr, truth
}

func (m *Machine) loaded(t float64) bool {
	if t < m.Rest || t >= m.Rest+m.Load {
		return false
	}
	if m.Dips {
		x := math.Mod(t-m.Rest, 47)
		return x < 37 || x > 37.6+1.2*math.Abs(math.Sin(t/47))
	}
	return true
}

func (m *Machine) sample(tr *telemetry.Trace, truth *Truth, s *state, now, power, clock float64, held string) {
	s.noise = 0.8*s.noise + 0.6*m.rng.NormFloat64()
	if now-s.dieAt >= m.DieRefresh-1e-6 {
		s.die, s.dieAt = math.Round(s.t[0]+m.Offset+0.2*m.rng.NormFloat64()), now
	}
	room := math.Round(10*(m.Room+m.Drift*now/1000+0.05*m.rng.NormFloat64())) / 10
	clock = 25 * math.Round(clock/25)
	load := 1.0
	if m.loaded(now) {
		load = 99
	}
	for c, v := range []float64{power * (1 + m.PowerNoise*s.noise), s.die, clock, load, room} {
		tr.Values[c] = append(tr.Values[c], v)
	}
	tr.Time = append(tr.Time, math.Round(now*10)/10)
	truth.Held, truth.Die = append(truth.Held, held), append(truth.Die, s.t[0])
}

func channels() []telemetry.Channel {
	ch := func(name string, k quantity.Kind, r telemetry.Role) telemetry.Channel {
		return telemetry.Channel{Key: name, Name: name, Quantity: k, Role: r}
	}
	return []telemetry.Channel{ch("power", quantity.Power, telemetry.RolePower), ch("die", quantity.Temperature, telemetry.RoleDie),
		ch("clock", quantity.Frequency, telemetry.RoleClock), ch("load", quantity.Share, telemetry.RoleLoad), ch("room", quantity.Temperature, telemetry.RoleAmbient)}
}
