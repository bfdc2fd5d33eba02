package main

import (
	"context"
	"errors"
	"math"
	"time"

	"soakline/collector/telemetry"
)

// costMeter reads the one or two channels that tell the cost of watching, from sources of
// its own; all others are closed again.
type costMeter struct {
	start              time.Time
	energy, power, die *probe
}

// probe is one channel of a kept group.
type probe struct {
	group telemetry.Group
	at    int
	out   []telemetry.Reading
}

// openMeter finds the channels that hold the roles of energy, power and die.
func openMeter(ctx context.Context, sources []telemetry.Source, roles map[telemetry.Role]string) (*costMeter, error) {
	var groups []telemetry.Group
	var all []telemetry.Channel
	for _, s := range sources {
		for _, g := range s.Open(ctx).Groups {
			groups, all = append(groups, g), append(all, g.Channels...)
		}
	}
	resolved, err := telemetry.Resolve(all, roles)
	if err != nil {
		closeAll(groups)
		return nil, usage(err)
	}
	find := func(r telemetry.Role) *probe {
		n := telemetry.IndexOf(resolved, r)
		for _, g := range groups {
			if n >= 0 && n < len(g.Channels) {
				return &probe{group: g, at: n, out: make([]telemetry.Reading, len(g.Channels))}
			}
			n -= len(g.Channels)
		}
		return nil
	}
	m := &costMeter{start: time.Now(), energy: find(telemetry.RoleEnergy), power: find(telemetry.RolePower), die: find(telemetry.RoleDie)}
	kept := map[telemetry.Reader]bool{}
	for _, p := range []*probe{m.energy, m.power, m.die} {
		if p != nil {
			kept[p.group.Reader] = true
		}
	}
	for _, g := range groups {
		if !kept[g.Reader] {
			g.Reader.Close()
		}
	}
	return m, nil
}

func closeAll(groups []telemetry.Group) {
	for _, g := range groups {
		g.Reader.Close()
	}
}

func (m *costMeter) read(p *probe) float64 {
	if p == nil {
		return math.NaN()
	}
	p.group.Reader.Read(time.Since(m.start), p.out)
	if r := p.out[p.at]; r.State.Usable() {
		return r.Value
	}
	return math.NaN()
}

func (m *costMeter) joules() float64  { return m.read(m.energy) }
func (m *costMeter) watts() float64   { return m.read(m.power) }
func (m *costMeter) celsius() float64 { return m.read(m.die) }
func (m *costMeter) counts() bool     { return m.energy != nil }

// name says which channel the watts come from.
func (m *costMeter) name() string {
	for _, p := range []*probe{m.energy, m.power} {
		if p != nil {
			return p.group.Channels[p.at].Name
		}
	}
	return ""
}

func (m *costMeter) close() error {
	var errs []error
	closed := map[telemetry.Reader]bool{}
	for _, p := range []*probe{m.energy, m.power, m.die} {
		if p != nil && !closed[p.group.Reader] {
			closed[p.group.Reader] = true
			errs = append(errs, p.group.Reader.Close())
		}
	}
	return errors.Join(errs...)
}
