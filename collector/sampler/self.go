package sampler

import (
	"math"
	"time"
)

// SelfStats is what the whole program costs the machine. What the system does not tell is
// NaN or 0 with Known false.
type SelfStats struct {
	CPU      time.Duration // processor time since the start
	CPUShare float64       // % of one core since the Meter's last question, NaN at first
	RSS      uint64        // bytes resident
	RSSKnown bool
}

// Meter asks what the program costs. It belongs to one goroutine.
type Meter struct {
	cpu time.Duration
	at  time.Time
}

// Self asks the system; now is the present.
func (m *Meter) Self(now time.Time) SelfStats {
	cpu, known := processTime()
	s := SelfStats{CPU: cpu, CPUShare: math.NaN()}
	if span := now.Sub(m.at); known && !m.at.IsZero() && span > 0 {
		s.CPUShare = 100 * float64(cpu-m.cpu) / float64(span)
	}
	m.cpu, m.at = cpu, now
	s.RSS, s.RSSKnown = resident()
	return s
}
