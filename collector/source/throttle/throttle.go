// Package throttle owns the kernel's counters of thermal-limit episodes of Intel
// processors, in cpuN/thermal_throttle (kernel: drivers/thermal/intel/therm_throt.c).
//
// The package's counters are repeated on every processor and a core's on both its
// threads: one processor a package and one a core is read, and nothing is ever summed.
// A count rises once when an episode begins, so minutes at the limit may be one; the
// time is added when the episode ends, so it stands still during a long one.
package throttle

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

const (
	name  = "throttle"
	dir   = "sys/devices/system/cpu"
	every = time.Second
)

// Source finds throttle counters below a tree's root.
type Source struct{ tree *rawfs.Tree }

// New gives the source for a tree.
func New(tree *rawfs.Tree) *Source { return &Source{tree} }

var _ telemetry.Source = (*Source)(nil)

// Name implements telemetry.Source.
func (s *Source) Name() string { return name }

// Open implements telemetry.Source.
func (s *Source) Open(context.Context) telemetry.Inventory {
	var inv telemetry.Inventory
	r := &gauge.Reader{}
	g := telemetry.Group{Name: "thermal-limit counters", Every: every, Reader: r}
	entries, err := s.tree.List(dir)
	seen := map[string]bool{}
	for _, e := range entries {
		cpu := dir + "/" + e
		if !isProcessor(e) || !s.tree.Exists(cpu+"/thermal_throttle") {
			continue
		}
		pkg, core := s.place(cpu)
		if !seen[pkg] {
			seen[pkg] = true
			s.add(&inv, &g, r, cpu, "package", pkg, pkg)
		}
		if !seen[core] {
			seen[core] = true
			s.add(&inv, &g, r, cpu, "core", core, pkg)
		}
	}
	if len(g.Channels) > 0 {
		inv.Groups = []telemetry.Group{g}
		return inv
	}
	inv.Status, inv.Reason = telemetry.NotHere, "this processor or kernel keeps no thermal-limit counters (Intel processors only)"
	switch {
	case errors.Is(err, errors.ErrUnsupported):
		inv.Reason = "sensor files are read on Linux only"
	case len(inv.Missing) > 0:
		inv.Status, inv.Reason = telemetry.Failed, inv.Missing[0].Reason
	}
	return inv
}

// isProcessor is true for cpu0, cpu12; not for cpufreq or cpuidle.
func isProcessor(entry string) bool {
	n, ok := strings.CutPrefix(entry, "cpu")
	return ok && n != "" && strings.Trim(n, "0123456789") == ""
}

// place names a processor's package and core by its topology.
func (s *Source) place(cpu string) (pkg, core string) {
	pkg = "package " + s.tree.TextOr(cpu+"/topology/physical_package_id", "0")
	if die := s.tree.TextOr(cpu+"/topology/die_id", "0"); die != "0" {
		pkg += " die " + die
	}
	return pkg, pkg + " core " + s.tree.TextOr(cpu+"/topology/core_id", cpu[len(dir+"/cpu"):])
}

// add opens the count and the total time of one package or core.
func (s *Source) add(inv *telemetry.Inventory, g *telemetry.Group, r *gauge.Reader, cpu, level, what, pkg string) {
	for _, c := range []struct {
		file, words, key string
		quantity         quantity.Kind
		scale            float64
	}{
		{"_throttle_count", " thermal-limit episodes", "/episodes", quantity.Count, 1},
		{"_throttle_total_time_ms", " time at the thermal limit", "/time", quantity.Duration, 1e-3},
	} {
		path := fmt.Sprintf("%s/thermal_throttle/%s%s", cpu, level, c.file)
		if !s.tree.Exists(path) {
			continue // older kernels count episodes only
		}
		ch := telemetry.Channel{Key: name + "/" + strings.ReplaceAll(what, " ", "-") + c.key, Name: what + c.words,
			Quantity: c.quantity, Source: name, Device: "processor " + pkg}
		if level == "package" && c.quantity == quantity.Count {
			ch.Role, ch.Rank = telemetry.RoleThermalHits, 100-len(g.Channels)
		}
		f, err := s.tree.Open(path)
		if err != nil {
			inv.Missing = append(inv.Missing, telemetry.Missing{Name: ch.Name, Source: name, Role: ch.Role, Reason: err.Error()})
			continue
		}
		r.Attrs = append(r.Attrs, gauge.Attr{File: f, Scale: c.scale, Min: 0, Max: 1e15})
		g.Channels = append(g.Channels, ch)
	}
}
