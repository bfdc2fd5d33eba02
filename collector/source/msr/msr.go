// Package msr owns the processor's own registers of power, heat and limits, read through
// /dev/cpu/N/msr: what holds the clock back right now, the limits with their windows, the
// thermal status, and energy where the kernel shows it no other way. Numbers and fields
// are those of Intel's manual (SDM Vol. 3B 14.9, Vol. 4) as Intel's own headers write
// them down (EDK2: MdePkg/Include/Register/Intel), and of the kernel's drivers for AMD.
//
// It reads and never writes: the device is opened read-only, and a sticky log bit, which
// only a write clears, is compared with the last one. A register that a processor does
// not have makes the kernel's read fail, which becomes a gap. It knows no other source.
package msr

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

const (
	name   = "msr"
	cpuDir = "sys/devices/system/cpu"
	// Limits are looked at once a second: firmware may rewrite them in mid-run.
	limitEvery = time.Second
)

// Source reads one processor of each package.
type Source struct {
	tree *rawfs.Tree
	open func(cpu string) (registers, error)
	now  func() time.Duration
}

// registers are those of one processor.
type registers interface {
	read(address int64) (uint64, telemetry.State)
	Close() error
}

// New gives the source for a tree.
func New(tree *rawfs.Tree) *Source {
	start := time.Now()
	return &Source{tree: tree, open: func(cpu string) (registers, error) { return openDevice(tree, cpu) },
		now: func() time.Duration { return time.Since(start) }}
}

var _ telemetry.Source = (*Source)(nil)

// Name implements telemetry.Source.
func (s *Source) Name() string { return name }

// Open implements telemetry.Source.
func (s *Source) Open(context.Context) telemetry.Inventory {
	var inv telemetry.Inventory
	cpu, known := identify(s.tree)
	if !known {
		inv.Status, inv.Reason = telemetry.NotHere, "no Intel or AMD processor with registers that are known"
		return inv
	}
	if !cpu.intel && s.powercapReads() {
		inv.Status, inv.Reason = telemetry.NotHere, "an AMD processor's registers add nothing to what powercap reads"
		return inv
	}
	packages := s.packages()
	for i, p := range packages {
		title := "package"
		if len(packages) > 1 {
			title = "package " + p.id
		}
		s.openPackage(&inv, cpu, p, title, i)
	}
	if len(inv.Groups) == 0 {
		inv.Status, inv.Reason = telemetry.Failed, "no register can be read"
		if len(inv.Missing) > 0 {
			inv.Reason = inv.Missing[0].Reason
		}
	}
	return inv
}

// place is a package and the processor through which it is read.
type place struct{ id, cpu string }

// packages gives one processor of each package.
func (s *Source) packages() []place {
	entries, _ := s.tree.List(cpuDir)
	seen := map[string]bool{}
	var all []place
	for _, e := range entries {
		n, ok := strings.CutPrefix(e, "cpu")
		if !ok || n == "" || strings.Trim(n, "0123456789") != "" {
			continue
		}
		id := s.tree.TextOr(cpuDir+"/"+e+"/topology/physical_package_id", "0")
		if !seen[id] {
			seen[id] = true
			all = append(all, place{id, n})
		}
	}
	if len(all) == 0 {
		all = []place{{"0", "0"}}
	}
	return all
}

// openPackage adds the groups of one package.
func (s *Source) openPackage(inv *telemetry.Inventory, cpu model, p place, title string, number int) {
	open := func() (registers, error) { return s.open(p.cpu) }
	f, err := open()
	if err != nil {
		s.denied(inv, cpu, title, err)
		return
	}
	var unit units
	raw, state := f.read(cpu.unitRegister)
	if state == telemetry.Fresh && raw == 0 {
		f.Close()
		inv.Missing = append(inv.Missing, telemetry.Missing{Name: title + " limit reasons", Source: name, Role: telemetry.RoleReasons,
			Reason: "the registers read 0, as in a virtual machine that makes them up"})
		return
	}
	if state == telemetry.Fresh {
		unit = decodeUnits(raw)
	}
	inv.Conditions = append(inv.Conditions, conditions(f, cpu, title)...)
	f.Close()
	b := builder{source: s, inv: inv, cpu: cpu, units: unit, open: open, title: title, key: name + "/package-" + p.id, number: number}
	b.fast()
	if cpu.intel {
		b.limits()
	}
	if cpu.withoutUnits || state != telemetry.Fresh {
		inv.Missing = append(inv.Missing, telemetry.Missing{Name: title + " limits by register", Source: name,
			Reason: "this processor's unit register is laid out in another way or cannot be read"})
	}
}

// denied says how the registers could be read.
func (s *Source) denied(inv *telemetry.Inventory, cpu model, title string, err error) {
	m := telemetry.Missing{Name: title + " limit reasons", Source: name, Role: telemetry.RoleReasons, Reason: err.Error()}
	if !cpu.intel {
		m.Name, m.Role = title+" energy by register", telemetry.RoleEnergy
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		m.Remedy = "The kernel's msr module is not loaded: as root, modprobe msr. See 'soakline channels --explain'."
	case errors.Is(err, errors.ErrUnsupported):
		m.Reason = "registers are read on Linux only"
	case rawfs.StateOf(err) == telemetry.GapDenied:
		m.Remedy = "Only root may read the processor's registers: 'soakline channels --explain' says what that adds and how to grant it."
	}
	inv.Missing = append(inv.Missing, m)
}

// conditions states what belongs to the setup: whether firmware has locked the limits,
// and how sure the decoding is.
func conditions(f registers, cpu model, title string) []telemetry.Setting {
	all := []telemetry.Setting{}
	if cpu.intel && !cpu.withoutUnits {
		if raw, state := f.read(regPowerLimit); state == telemetry.Fresh {
			text := "no"
			if raw>>63 != 0 {
				text = "yes, until the next reset"
			}
			all = append(all, telemetry.Setting{Key: title + " power limits locked", Value: text})
		}
	}
	if cpu.core.address != 0 && cpu.core.note != "" {
		all = append(all, telemetry.Setting{Key: title + " limit reasons decoded", Value: fmt.Sprintf("%s (%s)", cpu.core.note, cpu)})
	}
	return all
}

var gap = gauge.Gap
