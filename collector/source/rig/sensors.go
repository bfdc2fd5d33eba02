package rig

import "math"

// meters are what the machine counts; differences of two states are means over the time
// between them, whatever the pace of reading.
type meters struct {
	seconds float64 // simulated time
	energyJ float64 // as the power meter counts it
	trueJ   float64
	clock   float64 // MHz s
	busy    float64 // % s
	work    float64 // pieces of work done
	hits    float64 // episodes in which the thermal limit held the chip back
	renewed float64 // how often the slow sensors renewed
}

// Time of one piece of work: one part shrinks with the clock, one waits for memory
// (invented).
const workGHzS, workWaitS = 0.19, 0.010

func (c *meters) count(m *machine) {
	c.seconds += m.dt
	c.trueJ += m.power * m.dt
	c.energyJ += m.power * (1 + m.senses.gain) * m.dt
	c.clock += m.clock * m.dt
	c.busy += m.demand.busy * m.dt
	if m.demand.loaded {
		c.work += m.dt / (workGHzS*1e3/m.clock + workWaitS)
	}
}

// senses are the sensors' own states: noise that lasts, and values that renew slowly.
type senses struct {
	gain    float64        // of the power meter, share
	die     float64        // noise, K
	cores   [Cores]float64 // noise, K
	board   float64        // true board temperature, degC
	boardC  float64        // degC; this and the following renew once a second
	ambient float64        // degC
	rpm     float64
}

// The board sits in the case air: it follows the room and a part of the block's rise
// with this time constant.
const boardS, boardShare = 40.0, 0.3

func (m *machine) boardTarget() float64 {
	return m.roomC() + boardShare*(m.ladder.t[nodeBlock]-m.roomC())
}

func (s *senses) every10ms(m *machine) {
	keep := math.Exp(-0.01 / m.cfg.Meter.PowerS)
	s.gain = keep*s.gain + m.cfg.Meter.PowerShare*math.Sqrt(1-keep*keep)*m.rng.NormFloat64()
	s.die = m.cfg.Meter.DieK * m.rng.NormFloat64()
	for i := range s.cores {
		s.cores[i] = m.cfg.Meter.DieK * m.rng.NormFloat64()
	}
}

func (s *senses) everySecond(m *machine) {
	m.meters.renewed++
	s.boardC = math.Round(s.board)
	s.ambient = math.Round(10*(m.roomC()+m.cfg.Meter.AmbientK*m.rng.NormFloat64())) / 10
	s.rpm = math.Round(m.fan.rpm + m.cfg.Meter.FanRPM*m.rng.NormFloat64())
}

// dieReading is the hottest junction's sensor in whole degrees.
func (m *machine) dieReading() float64 { return math.Round(m.dieC() + m.senses.die) }

// coreReading is core i's sensor in whole degrees.
func (m *machine) coreReading(i int) float64 {
	return math.Round(m.dieC() - m.setup.Cooling.CoreSpread[i]*m.power + m.senses.cores[i])
}

// energyReading is the counter in steps of 2^-14 J, as energy counters of this kind have.
func (m *machine) energyReading() float64 {
	return math.Floor(m.meters.energyJ*16384) / 16384
}
