// Package supply owns what feeds and frames the machine: mains, batteries, the platform
// profile and the lid (kernel: Documentation/power/power_supply_class.rst,
// Documentation/ABI/testing/sysfs-platform_profile).
//
// Everything here goes through firmware and is read in Slow groups. Batteries of mice
// and other peripherals (scope Device) are left out.
package supply

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

const (
	name = "supply"
	dir  = "sys/class/power_supply"
	// every is the cache period of ACPI batteries (kernel: drivers/acpi/battery.c,
	// cache_time 1000 ms); the rest changes by the user's hand.
	every = time.Second
)

// Source finds supplies below a tree's root.
type Source struct{ tree *rawfs.Tree }

// New gives the source for a tree.
func New(tree *rawfs.Tree) *Source { return &Source{tree} }

var _ telemetry.Source = (*Source)(nil)

// Name implements telemetry.Source.
func (s *Source) Name() string { return name }

// Open implements telemetry.Source.
func (s *Source) Open(context.Context) telemetry.Inventory {
	var inv telemetry.Inventory
	supplies, _ := s.tree.List(dir)
	times := map[string]int{}
	for _, id := range supplies {
		base := dir + "/" + id
		if s.tree.TextOr(base+"/scope", "") == "Device" {
			continue
		}
		switch s.tree.TextOr(base+"/type", "") {
		case "Battery":
			s.openBattery(&inv, id, steadyName(id, times))
		case "Mains", "USB", "Wireless":
			s.openMains(&inv, id)
		}
	}
	s.openProfile(&inv)
	s.openLid(&inv)
	if len(inv.Groups) == 0 {
		inv.Status, inv.Reason = telemetry.NotHere, "no supply, platform profile or lid below "+s.tree.Path("sys")
		if !rawfs.Supported {
			inv.Reason = "sensor files are read on Linux only"
		}
	}
	return inv
}

// busInName is the number of the bus, handed out in probe order, that some drivers put
// into a battery's name: sbs-0-000b (kernel: drivers/power/supply/sbs-battery.c).
var busInName = regexp.MustCompile(`-[0-9]+-([0-9a-f]{4})$`)

// steadyName is a battery's name without it; several at one address are counted.
func steadyName(id string, times map[string]int) string {
	name := busInName.ReplaceAllString(id, "-$1")
	if name == id {
		return id
	}
	if times[name]++; times[name] > 1 {
		name += fmt.Sprintf("#%d", times[name])
	}
	return name
}

// online words: 2 is a programmable USB supply (kernel: ABI sysfs-class-power).
var online = []string{"not connected", "connected", "connected, programmable"}

func (s *Source) openMains(inv *telemetry.Inventory, id string) {
	f, err := s.tree.Open(dir + "/" + id + "/online")
	if err != nil {
		return
	}
	r := &gauge.Reader{Attrs: []gauge.Attr{{File: f, Scale: 1, Min: 0, Max: 2}}}
	inv.Groups = append(inv.Groups, telemetry.Group{Name: id, Every: every, Slow: true, Reader: r,
		Channels: []telemetry.Channel{{Key: name + "/" + id + "/online", Name: id + " mains", Quantity: quantity.Label,
			Source: name, Device: "mains " + id, Labels: online}}})
	if now := r.Attrs[0].Read(); now.State.Usable() {
		inv.Conditions = append(inv.Conditions, telemetry.Setting{Key: "mains " + id, Value: online[int(now.Value)]})
	}
}

// openProfile takes the machine-wide profile, or each driver's own where there is no
// machine-wide file.
func (s *Source) openProfile(inv *telemetry.Inventory) {
	const legacy = "sys/firmware/acpi/platform_profile"
	if s.tree.Exists(legacy) {
		s.openLabel(inv, "platform profile", name+"/platform-profile", legacy, s.profiles(legacy+"_choices"), "firmware")
		return
	}
	const class = "sys/class/platform-profile"
	entries, _ := s.tree.List(class)
	for _, e := range entries {
		driver := s.tree.TextOr(class+"/"+e+"/name", e)
		s.openLabel(inv, "platform profile "+driver, name+"/platform-profile/"+driver, class+"/"+e+"/profile",
			s.profiles(class+"/"+e+"/choices"), driver)
	}
}

// profiles lists the choices and the word that stands for none of them.
func (s *Source) profiles(choices string) []string {
	return append(strings.Fields(s.tree.TextOr(choices, "")), "custom")
}

func (s *Source) openLid(inv *telemetry.Inventory) {
	const lids = "proc/acpi/button/lid"
	entries, _ := s.tree.List(lids)
	for _, e := range entries {
		s.openLabel(inv, "lid", name+"/lid/"+e, lids+"/"+e+"/state", []string{"open", "closed"}, "lid "+e)
	}
}

// openLabel adds a channel of text that is one of labels, and its present value as a
// condition.
func (s *Source) openLabel(inv *telemetry.Inventory, title, key, path string, labels []string, device string) {
	f, err := s.tree.Open(path)
	if err != nil {
		inv.Missing = append(inv.Missing, telemetry.Missing{Name: title, Source: name, Reason: err.Error()})
		return
	}
	r := &labelReader{file: f, labels: bytesOf(labels)}
	inv.Groups = append(inv.Groups, telemetry.Group{Name: title, Every: every, Slow: true, Reader: r,
		Channels: []telemetry.Channel{{Key: key, Name: title, Quantity: quantity.Label, Source: name, Device: device, Labels: labels}}})
	if now := r.read(); now.State.Usable() {
		inv.Conditions = append(inv.Conditions, telemetry.Setting{Key: title, Value: labels[int(now.Value)]})
	}
}
