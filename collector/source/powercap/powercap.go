// Package powercap owns the kernel's running-average power interface: package, core,
// graphics, memory and platform energy, and the power limits with their windows, below
// /sys/class/powercap (kernel: Documentation/power/powercap/powercap.rst).
//
// A zone is known by its name file; the numbers in its path are probe order. Power is
// the difference quotient of the energy counter over this package's own read times. The
// memory-mapped interface (intel-rapl-mmio) shows the same package again: its energy is
// never added, its limits are shown beside the others.
//
// It never writes: the limit files are writable for root, and are opened read-only.
package powercap

import (
	"context"
	"errors"
	"io/fs"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/telemetry"
)

const (
	name = "powercap"
	dir  = "sys/class/powercap"
	// limitEvery is the pace of limits and windows: firmware rewrites them mid-run.
	limitEvery = time.Second
)

// remedy is what an owner can do about energy counters that only root may read, as they
// are since November 2020 (Intel advisory SA-00389, CVE-2020-8694).
const remedy = `Give one group read access to the energy counters: see "Reading energy without root" in the README.`

// Source finds power zones below a tree's root.
type Source struct {
	tree *rawfs.Tree
	now  func() time.Duration
}

// New gives the source for a tree.
func New(tree *rawfs.Tree) *Source {
	start := time.Now()
	return &Source{tree: tree, now: func() time.Duration { return time.Since(start) }}
}

var _ telemetry.Source = (*Source)(nil)

// Name implements telemetry.Source.
func (s *Source) Name() string { return name }

// Open implements telemetry.Source.
func (s *Source) Open(ctx context.Context) telemetry.Inventory {
	var inv telemetry.Inventory
	zones, err := s.zones(ctx)
	if len(zones) == 0 {
		inv.Status, inv.Reason = telemetry.NotHere, "no power zone below "+s.tree.Path(dir)
		switch {
		case errors.Is(err, errors.ErrUnsupported):
			inv.Reason = "sensor files are read on Linux only"
		case err != nil && !errors.Is(err, fs.ErrNotExist):
			inv.Status, inv.Reason = telemetry.Failed, err.Error()
		}
		return inv
	}
	s.openEnergy(&inv, zones)
	s.openLimits(&inv, zones)
	if len(inv.Groups) == 0 {
		inv.Status, inv.Reason = telemetry.Failed, "no energy counter and no limit can be read"
	}
	return inv
}

// openEnergy makes one group of all counters, an energy and a power channel each.
func (s *Source) openEnergy(inv *telemetry.Inventory, zones []zone) {
	r := &energyReader{now: s.now}
	g := telemetry.Group{Name: "energy counters", Reader: r}
	for _, z := range zones {
		if z.repeated || !s.tree.Exists(z.dir+"/energy_uj") {
			continue
		}
		power := z.channel("power", quantity.Power)
		energy := z.channel("energy", quantity.Energy)
		if z.isPackage() {
			power.Role, power.Rank = telemetry.RolePower, 100-z.index
			energy.Role, energy.Rank = telemetry.RoleEnergy, 100-z.index
		}
		f, err := s.tree.Open(z.dir + "/energy_uj")
		if err != nil {
			inv.Missing = append(inv.Missing, missing(power, err), missing(energy, err))
			continue
		}
		span, err := s.tree.Int(z.dir + "/max_energy_range_uj")
		if err != nil || span <= 0 {
			span = 0 // a counter that goes down then restarts
		}
		r.counters = append(r.counters, counter{file: f, span: span, mustFlow: z.isPackage()})
		g.Channels = append(g.Channels, power, energy)
	}
	if len(g.Channels) > 0 {
		inv.Groups = append(inv.Groups, g)
	}
}

func missing(c telemetry.Channel, err error) telemetry.Missing {
	m := telemetry.Missing{Name: c.Name, Source: name, Role: c.Role, Reason: err.Error()}
	if rawfs.StateOf(err) == telemetry.GapDenied {
		m.Remedy = remedy
	}
	return m
}
