package main

import (
	"fmt"
	"strings"
	"time"

	"soakline/collector/sampler"
	"soakline/collector/session"
	"soakline/collector/source/rig"
	"soakline/collector/telemetry"
	"soakline/server"
	"soakline/server/wire"
)

// rigNames lists the setups of the simulated machine for help and errors.
func rigNames() string {
	var names []string
	for _, s := range rig.Default().Setups {
		names = append(names, s.Name)
	}
	return strings.Join(names, ", ")
}

func knownRig(name string) error {
	for _, s := range rig.Default().Setups {
		if s.Name == name {
			return nil
		}
	}
	return fmt.Errorf("%q: %w; there are %s", name, errSetup, rigNames())
}

// rigFeed is the simulated machine in one of its setups, at rest; "" is the first.
func rigFeed(name string, speed float64, period time.Duration, roles map[telemetry.Role]string) feed {
	cfg := rig.Default()
	if name != "" {
		cfg.Selected = name
	}
	src, err := rig.New(cfg)
	if err != nil {
		panic("the simulated machine's own configuration: " + err.Error())
	}
	return feed{origin: session.Rig, sources: []telemetry.Source{src}, clock: clock(speed), period: period, roles: roles}
}

// clock is the pace of a computed or recorded machine. At its natural pace it is the
// real clock, so that lateness is what it is.
func clock(speed float64) sampler.Clock {
	if speed == 1 {
		return sampler.Real()
	}
	return sampler.Simulated(speed)
}

// rigSwitch lets the page choose a setup: each begins a session of its own, because
// the setup is what a session is about.
type rigSwitch struct {
	selected string
	chosen   chan<- string
}

var _ server.RigControl = rigSwitch{}

// rigControl is nil where no simulated machine is shown.
func rigControl(f feed, chosen chan<- string) server.RigControl {
	if f.origin != session.Rig {
		return nil
	}
	return rigSwitch{f.sources[0].(*rig.Source).Selected().Name, chosen}
}

func (r rigSwitch) Setups() []wire.RigSetup {
	var out []wire.RigSetup
	for _, s := range rig.Default().Setups {
		out = append(out, wire.RigSetup{Name: s.Name, Title: s.Title, About: s.About})
	}
	return out
}

func (r rigSwitch) Selected() string { return r.selected }

func (r rigSwitch) Select(name string) error {
	if err := knownRig(name); err != nil {
		return err
	}
	select {
	case r.chosen <- name:
		return nil
	default:
		return fmt.Errorf("another setup is being put in; try again in a second")
	}
}
