// Package gpufs owns graphics units that tell about themselves in sysfs: AMD's binary
// table gpu_metrics (kernel: drivers/gpu/drm/amd/include/kgd_pp_interface.h) and Intel's
// clocks, throttle reasons and energy counters (kernel: drivers/gpu/drm/i915/gt,
// drivers/gpu/drm/xe). Their temperatures, fans and limits are hwmon's.
//
// A unit that sleeps is left asleep: its power/runtime_status is read first, which wakes
// nothing, and nothing else unless that says "active". Every read of the rest would take
// a power reference, and with older kernels wake the unit.
//
// It writes nothing and knows no other source.
package gpufs

import (
	"context"
	"path"
	"strings"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/telemetry"
)

const (
	name   = "gpufs"
	drmDir = "sys/class/drm"
	// every spares the unit's own controller, which is asked at each read.
	every = 500 * time.Millisecond
)

// Source finds graphics units below a tree's root.
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

// unit is one graphics unit as found.
type unit struct {
	dir    string // sys/class/drm/cardN
	device string // its PCI device's directory
	pci    string
	title  string
}

// Open implements telemetry.Source.
func (s *Source) Open(ctx context.Context) telemetry.Inventory {
	var inv telemetry.Inventory
	units := s.units()
	for _, u := range units {
		if ctx.Err() != nil {
			break
		}
		switch s.tree.TextOr(u.device+"/vendor", "") {
		case "0x1002":
			s.openMetrics(&inv, u)
		case "0x8086":
			s.openIntel(&inv, u)
		}
	}
	switch {
	case len(inv.Groups) > 0:
	case len(inv.Missing) > 0:
		inv.Status, inv.Reason = telemetry.Failed, inv.Missing[0].Reason
	default:
		inv.Status, inv.Reason = telemetry.NotHere, "no AMD or Intel graphics unit with files of its own below "+s.tree.Path(drmDir)
	}
	return inv
}

// units lists the graphics units by card directory; connectors (card0-HDMI-A-1) and
// render nodes are the same units again.
func (s *Source) units() []unit {
	entries, _ := s.tree.List(drmDir)
	var found []unit
	for _, e := range entries {
		n, ok := strings.CutPrefix(e, "card")
		if !ok || n == "" || strings.Trim(n, "0123456789") != "" {
			continue
		}
		real, err := s.tree.Real(drmDir + "/" + e + "/device")
		if err != nil {
			continue
		}
		found = append(found, unit{dir: drmDir + "/" + e, device: real, pci: path.Base(real), title: "graphics"})
	}
	if len(found) > 1 {
		for i := range found {
			found[i].title += " " + found[i].pci
		}
	}
	return found
}

// status opens the file that says whether the unit is awake; nil where there is none.
func (s *Source) status(u unit) *rawfs.File {
	f, _ := s.tree.Open(u.device + "/power/runtime_status")
	return f
}

func (u unit) channel(what string, q quantity.Kind) telemetry.Channel {
	return telemetry.Channel{Key: name + "/" + u.pci + "/" + strings.ReplaceAll(what, " ", "-"), Name: u.title + " " + what,
		Quantity: q, Source: name, Device: "graphics unit at " + u.pci}
}

func missing(u unit, what string, err error) telemetry.Missing {
	m := telemetry.Missing{Name: u.title + " " + what, Source: name, Reason: err.Error()}
	if rawfs.StateOf(err) == telemetry.GapDenied {
		m.Remedy = "Give your group read access to this file."
	}
	return m
}
