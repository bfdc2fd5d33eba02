package rig

import (
	"math"
	"math/rand/v2"
)

// HeldBy is what holds the clock back at an instant, in the words of the result's
// limiter kinds.
type HeldBy string

// What can hold this machine back.
const (
	HeldIdle  HeldBy = "idle"
	HeldClock HeldBy = "clock"
	HeldShort HeldBy = "power-short"
	HeldLong  HeldBy = "power-long"
	HeldHeat  HeldBy = "thermal"
)

// machine is the true state of the simulated computer and its sensors.
type machine struct {
	cfg   Config
	setup Setup
	dt    float64 // s
	per10 uint64  // steps in 10 ms
	steps uint64  // since the start from rest

	rng    *rand.Rand
	ladder *ladder
	limit  limiter
	heat   governor
	fan    fan
	demand demand
	asked  asked
	drift  float64 // of the room, K

	clock  float64 // MHz
	power  float64 // W
	held   HeldBy
	hot    float64 // s since the governor last held the chip back
	meters meters
	senses senses
}

// newMachine is at rest at the setup's idle temperatures; it goes on counting from m.
func newMachine(cfg Config, s Setup, m meters) *machine {
	dt := cfg.Step.Seconds()
	k := &machine{cfg: cfg, setup: s, dt: dt, per10: uint64(math.Round(0.01 / dt)), meters: m,
		rng: rand.New(rand.NewPCG(cfg.Seed, 0x736f616b)), limit: newLimiter(cfg.Limits, dt),
		heat: newGovernor(cfg.Limits), clock: cfg.Chip.FloorMHz, held: HeldIdle, hot: math.Inf(1)}
	k.ladder, _ = s.Cooling.ladder(1) // checked with the configuration
	k.rest()
	return k
}

// rest brings the machine to the steady state of its idle power.
func (m *machine) rest() {
	chip := &m.cfg.Chip
	t := m.cfg.Room.MeanC
	p := 0.0
	for range 50 {
		p = chip.power(chip.FloorMHz, 0.03, chip.GatedShare*chip.Leakage(t))
		t = m.setup.steady(m.cfg.Room.MeanC, p).dieC
	}
	st := m.setup.steady(m.cfg.Room.MeanC, p)
	copy(m.ladder.t, st.nodes[:])
	m.power, m.limit.average = p, p
	m.fan.rest(t)
	m.senses.board = m.boardTarget()
}

func (m *machine) roomC() float64 { return m.cfg.Room.MeanC + m.drift }
func (m *machine) dieC() float64  { return m.ladder.t[nodeDie] }
func (m *machine) hasFan() bool   { return m.setup.Cooling.Far.FanRPM > 0 }

// step goes on by one step of the physics. What is random or slow moves on fixed grids
// of 10 ms, 100 ms and 1 s of simulated time, so that it does not depend on the step.
func (m *machine) step() {
	if m.steps%m.per10 == 0 {
		m.every10ms(m.steps / m.per10)
	}
	m.steps++
	chip, d := &m.cfg.Chip, &m.demand
	leak := chip.Leakage(m.dieC())
	byPower, byHeat := m.limit.allowed(), m.heat.allowed(m.dieC())
	if d.loaded {
		m.clock = chip.clockFor(min(byPower, byHeat), m.clock, d.activity, leak)
	} else {
		m.clock, leak = chip.FloorMHz, leak*chip.GatedShare
	}
	m.power = chip.power(m.clock, d.activity, leak)
	m.ladder.step(m.dt, m.power, m.roomC())
	m.limit.drawn(m.power)
	m.heat.observe(m.dt, m.dieC())
	m.judge(byPower, byHeat)
	m.meters.count(m)
}

// judge says what held the chip back in this step and counts episodes of heat: a new
// one begins after a second without.
func (m *machine) judge(byPower, byHeat float64) {
	m.hot += m.dt
	switch {
	case !m.demand.loaded:
		m.held = HeldIdle
	case m.clock >= m.cfg.Chip.CeilingMHz:
		m.held = HeldClock
	case byHeat < byPower:
		m.held = HeldHeat
		if m.hot > 1 {
			m.meters.hits++
		}
		m.hot = 0
	case byPower >= m.cfg.Limits.ShortW:
		m.held = HeldShort
	default:
		m.held = HeldLong
	}
}

func (m *machine) every10ms(n uint64) {
	asked := m.asked.slot()
	m.demand.advance(m.rng, asked || m.cfg.Plan.loaded(float64(n)*0.01))
	m.senses.every10ms(m)
	far := m.setup.Cooling.Far
	m.ladder.setLast(far.resistance(m.fan.rpm, m.ladder.t[nodeFar]-m.roomC()))
	if n%10 == 0 {
		m.every100ms(n / 10)
	}
}

func (m *machine) every100ms(n uint64) {
	keep := math.Exp(-0.1 / m.cfg.Room.DriftS)
	m.drift = keep*m.drift + m.cfg.Room.DriftK*math.Sqrt(1-keep*keep)*m.rng.NormFloat64()
	if m.hasFan() {
		m.fan.advance(m.dieC(), n%fanControlHundredMS == 0)
	}
	m.senses.board += -math.Expm1(-0.1/boardS) * (m.boardTarget() - m.senses.board)
	if n%10 == 0 {
		m.senses.everySecond(m)
	}
}
