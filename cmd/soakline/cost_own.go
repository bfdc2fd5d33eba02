package main

import (
	"time"

	"soakline/collector/sampler"
	"soakline/collector/source/nvml"
)

// ownMeter asks what the program costs, the helper processes of its sources included. It
// belongs to one goroutine.
type ownMeter struct {
	meter  sampler.Meter
	helper time.Duration
	at     time.Time
}

// self is sampler.Meter's answer with the helpers' time added, in % of one core.
func (m *ownMeter) self(now time.Time) sampler.SelfStats {
	s, helper := m.meter.Self(now), nvml.HelperTime()
	if span := now.Sub(m.at); !m.at.IsZero() && span > 0 {
		s.CPUShare += 100 * float64(helper-m.helper) / float64(span)
	}
	s.CPU += helper
	m.helper, m.at = helper, now
	return s
}
