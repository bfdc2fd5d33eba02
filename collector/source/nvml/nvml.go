// Package nvml owns graphics and accelerator cards whose driver comes with NVIDIA's
// management library: power, energy, temperatures, limits, clocks, load and the card's
// own reasons for holding its clock back (nvml.h, the header that ships with the driver).
//
// The library is opened at run time in a helper process (libcall), one a card, and only
// where the card's kernel driver is loaded and the card is awake: a card that sleeps is
// left asleep, and one that could sleep is let go after a while without work. Nothing is
// ever set; every function that is called begins with Get, but for the library's init.
//
// A card's channels hold the roles of the session only on a computer without processor
// sensors; beside a processor they hold none, so that a processor's temperature is never
// read against a card's power, and --role puts the card in the middle.
package nvml

import (
	"context"
	"fmt"
	"path"
	"strings"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/source/nvml/libcall"
	"soakline/collector/telemetry"
)

const (
	name   = "nvml"
	pciDir = "sys/bus/pci/devices"
	vendor = "0x10de" // the vendor's number on PCI
	// every is the shortest useful time between two reads: the cards looked at renew their
	// power every 100 ms.
	every = 100 * time.Millisecond
	// subjectRank beats every other source where the card is what is being watched.
	subjectRank = 200
)

// Source finds cards below a tree's root.
type Source struct {
	tree *rawfs.Tree
	open func(pci string) (card, error)
	now  func() time.Duration
}

// New gives the source for a tree. Cards answer only on the running machine itself.
func New(tree *rawfs.Tree) *Source {
	start := time.Now()
	return &Source{tree: tree, open: openCard, now: func() time.Duration { return time.Since(start) }}
}

var _ telemetry.Source = (*Source)(nil)

// Name implements telemetry.Source.
func (s *Source) Name() string { return name }

// Open implements telemetry.Source.
func (s *Source) Open(ctx context.Context) telemetry.Inventory {
	var inv telemetry.Inventory
	cards := s.cards()
	subject := !s.processorSensors()
	for i, pci := range cards {
		if ctx.Err() != nil {
			break
		}
		title := "GPU"
		if len(cards) > 1 {
			title += " " + pci
		}
		s.openCard(&inv, pci, title, subject, subjectRank-i)
	}
	switch {
	case len(cards) == 0:
		inv.Status, inv.Reason = telemetry.NotHere, "no card of this vendor below "+s.tree.Path(pciDir)
	case len(inv.Groups) == 0:
		inv.Status, inv.Reason = telemetry.Failed, inv.Missing[0].Reason
	}
	return inv
}

// cards lists the PCI addresses of the vendor's display controllers and accelerators
// (PCI class 03h). These files are answered by the kernel and wake nothing.
func (s *Source) cards() []string {
	entries, _ := s.tree.List(pciDir)
	var found []string
	for _, e := range entries {
		if s.tree.TextOr(path.Join(pciDir, e, "vendor"), "") == vendor &&
			strings.HasPrefix(s.tree.TextOr(path.Join(pciDir, e, "class"), ""), "0x03") {
			found = append(found, e)
		}
	}
	return found
}

// processorSensors is true where the computer shows a sensor of its processor.
func (s *Source) processorSensors() bool {
	for _, class := range []struct{ dir, file string }{
		{"sys/class/hwmon", "name"}, {"sys/class/thermal", "type"}, {"sys/class/powercap", "name"},
	} {
		entries, _ := s.tree.List(class.dir)
		for _, e := range entries {
			switch text := s.tree.TextOr(path.Join(class.dir, e, class.file), ""); {
			case text == "coretemp", text == "k10temp", text == "x86_pkg_temp", strings.HasPrefix(text, "package-"),
				strings.HasPrefix(text, "cpu"):
				return true
			}
		}
	}
	return false
}

// openCard adds one card. Awake, it is asked what it knows; asleep, it is listed with
// all channels that a card may have.
func (s *Source) openCard(inv *telemetry.Inventory, pci, title string, subject bool, rank int) {
	dir := path.Join(pciDir, pci)
	miss := func(reason, remedy string) {
		inv.Missing = append(inv.Missing, telemetry.Missing{Name: title, Source: name, Reason: reason, Remedy: remedy})
	}
	if driver, err := s.tree.Real(dir + "/driver"); err != nil || path.Base(driver) != "nvidia" {
		miss("the card's kernel driver is "+driverName(driver)+", which the management library does not speak to",
			"Load the vendor's driver if you want the card's sensors; without it nothing of the card is touched.")
		return
	}
	r := &reader{pci: pci, open: s.open, now: s.now}
	r.status, _ = s.tree.Open(dir + "/power/runtime_status")
	r.maySleep = s.tree.TextOr(dir+"/power/control", "on") == "auto"
	device, items := "GPU at "+pci, allItems()
	if r.awake() {
		if err := r.connect(); err != nil {
			r.Close()
			miss(err.Error(), "Look whether the driver's own library is installed and of the driver's version, and whether /dev/nvidiactl and /dev/nvidia0 may be read and written by your group.")
			return
		}
		device = r.card.name() + " at " + pci
		r.card.read(&r.answers, everything())
		var without []string
		items, without = known(items, &r.answers)
		if len(without) > 0 {
			miss("this card or driver does not tell "+strings.Join(without, ", "), "")
		}
	}
	g := telemetry.Group{Name: title + " " + pci, Every: every, Slow: true, Reader: r}
	for _, i := range items {
		g.Channels = append(g.Channels, i.channel(pci, title, device, subject, rank))
	}
	r.items, r.last = items, make([]telemetry.Reading, len(items))
	inv.Groups = append(inv.Groups, g)
}

func driverName(real string) string {
	if real == "" || real == "." {
		return "not loaded"
	}
	return path.Base(real)
}

// channel describes an item of a card.
func (i item) channel(pci, title, device string, subject bool, rank int) telemetry.Channel {
	c := telemetry.Channel{Key: fmt.Sprintf("%s/%s/%s", name, pci, strings.ReplaceAll(i.name, " ", "-")),
		Name: title + " " + i.name, Quantity: i.quantity, Source: name, Device: device, Bits: i.bits}
	if subject {
		c.Role, c.Rank = i.role, rank
	}
	return c
}

// known leaves out what the card says it does not support.
func known(items []item, a *answers) (kept []item, without []string) {
	for _, i := range items {
		if r := a[i.from].code; r == notSupported || r == notFound || r == functionNotFound {
			without = append(without, i.name)
			continue
		}
		kept = append(kept, i)
	}
	return kept, without
}

// HelperTime is the processor time that the library's helper processes have taken so far:
// it belongs to what watching costs.
func HelperTime() time.Duration { return libcall.CPUTime() }
