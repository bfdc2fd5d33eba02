package series

import (
	"math"

	"soakline/collector/telemetry"
)

// Limits of the store. A sample is some 120 bytes, so a day costs about 15 MB.
const (
	rawKept     = 12000 // single samples: 20 min at 10 Hz; compaction starts above
	rawBatch    = 3000  // how many are compacted at once, so that it happens rarely
	secondsKept = 90000 // means over 1 s: a day and an hour
	edgeShare   = 0.12  // a move of power by this share within edgeSpan is an edge
	edgeBefore  = 30.0  // s kept single before an edge: the burst that it may end
	edgeAfter   = 10.0  // s kept single after an edge
	maxHold     = 2.0   // s for which the last power stands in for a missing one
	maxPower    = 1e5   // W, above which a reading is rubbish
)

// Store takes rows and keeps samples.
type Store struct {
	cols    columns
	samples []Sample
	rawFrom int // samples before this one are compacted as far as they can be
	// Generation grows when old samples are merged; indexes taken before are void.
	Generation int

	lastE, lastEAt float64 // the last distinct energy reading
	pending        int     // samples at the tail still without power, waiting for energy
	fast, slow     float64 // running means of power, to notice edges
	first          bool
	// EnergyUsed is true once power came from the counter.
	EnergyUsed bool
}

type columns struct {
	power, energy, die, clock, load, ambient, fan, reasons, long, short, window, thermal int
}

// NewStore makes a store for rows of these channels.
func NewStore(chs []telemetry.Channel) *Store {
	at := func(r telemetry.Role) int { return telemetry.IndexOf(chs, r) }
	return &Store{
		cols: columns{
			power: at(telemetry.RolePower), energy: at(telemetry.RoleEnergy), die: at(telemetry.RoleDie),
			clock: at(telemetry.RoleClock), load: at(telemetry.RoleLoad), ambient: at(telemetry.RoleAmbient),
			fan: at(telemetry.RoleFan), reasons: at(telemetry.RoleReasons), long: at(telemetry.RoleLongLimit),
			short: at(telemetry.RoleShortLimit), window: at(telemetry.RoleLongWindow), thermal: at(telemetry.RoleThermalLimit),
		},
		lastE: math.NaN(), fast: math.NaN(), slow: math.NaN(), first: true,
	}
}

// Samples are the samples kept, oldest first. The slice is the store's: read only.
func (s *Store) Samples() []Sample { return s.samples }

// HasPower is true where a power or an energy channel exists.
func (s *Store) HasPower() bool { return s.cols.power >= 0 || s.cols.energy >= 0 }

// Push takes a row. It returns how many samples at the tail got their power now, in
// order, so that a filter over power can follow without a second pass.
func (s *Store) Push(t float64, values []float64, states []telemetry.State) int {
	dt := 0.0
	if !s.first {
		dt = t - s.samples[len(s.samples)-1].At
		if !(dt > 0) {
			return 0 // the same instant twice: the first reading stands
		}
	}
	s.first = false
	if len(s.samples) >= rawKept+rawBatch && len(s.samples)-s.rawFrom > rawKept {
		s.compact()
	}
	get := func(c int) float64 {
		if c < 0 || c >= len(values) || !states[c].Usable() || !Known(values[c]) {
			return math.NaN()
		}
		return values[c]
	}
	p := blank(t, dt)
	p.Die, p.Clock, p.Load = plausible(get(s.cols.die), -60, 250), get(s.cols.clock), get(s.cols.load)
	p.DieMax = p.Die
	p.Ambient, p.Fan = plausible(get(s.cols.ambient), -60, 150), get(s.cols.fan)
	p.LongLimit, p.ShortLimit = positive(get(s.cols.long)), positive(get(s.cols.short))
	p.Window, p.ThermalLimit = positive(get(s.cols.window)), positive(get(s.cols.thermal))
	if r := get(s.cols.reasons); Known(r) && r >= 0 {
		p.Reasons, p.Told = uint64(r), true
	}
	p.Power = plausible(get(s.cols.power), 0, maxPower)
	s.samples = append(s.samples, p)
	s.dropSpike()
	s.dropFirst()
	return s.settlePower(get(s.cols.energy))
}

// settlePower gives the tail its power: from the energy counter where there is one,
// whose difference quotient is the mean over the interval and not a point sample.
func (s *Store) settlePower(e float64) int {
	n := len(s.samples)
	now := s.samples[n-1].At
	s.pending++
	if s.cols.energy < 0 {
		return s.release(math.NaN())
	}
	switch {
	case Known(e) && !Known(s.lastE):
		s.lastE, s.lastEAt = e, now
		return s.release(math.NaN())
	case Known(e) && e > s.lastE && now > s.lastEAt:
		p := (e - s.lastE) / (now - s.lastEAt)
		stale := now-s.lastEAt > 4*maxHold // waited so long that the tail was released
		s.lastE, s.lastEAt = e, now
		if p > maxPower || stale {
			return s.release(math.NaN())
		}
		s.EnergyUsed = true
		return s.release(p)
	case Known(e) && e < s.lastE: // wrapped or restarted: no number for this interval
		s.lastE, s.lastEAt = e, now
		return s.release(math.NaN())
	case now-s.lastEAt > maxHold: // the counter is silent: take what the power channel says
		return s.release(math.NaN())
	}
	return 0
}

// release ends the wait of the pending tail: with the mean power p where it is known,
// else each sample keeps its own reading, or the last one for a short while.
func (s *Store) release(p float64) int {
	n := len(s.samples)
	for i := n - s.pending; i < n; i++ {
		q := &s.samples[i]
		switch {
		case Known(p):
			q.Power = p
		case !Known(q.Power) && i > 0 && Known(s.samples[i-1].Power) && q.Dt <= maxHold && s.heldFor(i) < maxHold:
			q.Power = s.samples[i-1].Power
		}
		s.noteEdge(i)
	}
	done := s.pending
	s.pending = 0
	return done
}

// heldFor is how long the power before sample i has been repeated unchanged.
func (s *Store) heldFor(i int) float64 {
	held := 0.0
	for j := i - 1; j > 0 && s.samples[j].Power == s.samples[j-1].Power && held < maxHold; j-- {
		held += s.samples[j].Dt
	}
	return held
}

// noteEdge marks sample i where the fast running mean of power leaves the slow one. Measured
// at 10 Hz (TestEdgeRate): no false alarm in two hours of noise of 1 to 3.7 %; a step by a
// quarter is seen after 0.5 s, by a half after 0.2 s. A CUSUM (changepoint) that knows level
// and noise sees both after 0.1 s, but must be told these anew after every step; with 30 s
// kept before an edge nothing would be gained by it here.
func (s *Store) noteEdge(i int) {
	q := &s.samples[i]
	if !Known(q.Power) {
		return
	}
	if !Known(s.fast) {
		s.fast, s.slow = q.Power, q.Power
		return
	}
	s.fast += (q.Power - s.fast) * (1 - math.Exp(-q.Dt/0.5))
	s.slow += (q.Power - s.slow) * (1 - math.Exp(-q.Dt/5))
	q.edge = math.Abs(s.fast-s.slow) > edgeShare*s.slow
}

// dropSpike removes a single die reading that leaves both neighbours by more than
// 15 K while these agree within 5 K: no die heats and cools so fast, a bus error does.
func (s *Store) dropSpike() {
	n := len(s.samples)
	if n < 3 {
		return
	}
	a, b, c := s.samples[n-3].Die, s.samples[n-2].Die, s.samples[n-1].Die
	if math.Abs(a-c) < 5 && math.Abs(b-a) > 15 && math.Abs(b-c) > 15 {
		s.samples[n-2].Die, s.samples[n-2].DieMax = math.NaN(), math.NaN()
	}
}

// dropFirst removes what a sensor showed before its first conversion: one and the same
// reading in the first two seconds, which the next one leaves by more than 10 K.
func (s *Store) dropFirst() {
	n := len(s.samples)
	if n < 2 || s.samples[n-1].At-s.samples[0].At > 2 {
		return
	}
	if !(math.Abs(s.samples[n-1].Die-s.samples[0].Die) > 10) {
		return
	}
	for i := range s.samples[:n-1] {
		if s.samples[i].Die != s.samples[0].Die {
			return
		}
	}
	first := s.samples[0].Die
	for i := 0; i < n-1 && s.samples[i].Die == first; i++ {
		s.samples[i].Die, s.samples[i].DieMax = math.NaN(), math.NaN()
	}
}

func plausible(x, low, high float64) float64 {
	if x < low || x > high {
		return math.NaN()
	}
	return x
}

// positive drops a limit of 0, by which hardware says that it is disabled.
func positive(x float64) float64 {
	if x > 0 {
		return x
	}
	return math.NaN()
}
