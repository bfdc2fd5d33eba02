package hwmon

import (
	"context"
	"fmt"
	"path"
	"strings"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

// chip is one hwmon device as found.
type chip struct {
	tree   *rawfs.Tree
	dir    string          // where its values lie
	name   string          // the driver's name for it
	id     string          // see identity
	title  string          // name, with id where several chips share the name
	real   string          // the device's real path
	pci    string          // the PCI device that it is, or ""
	files  map[string]bool // what dir holds
	found  []attribute     // the measured ones, in natural order
	asleep bool
}

// chips lists the chips that measure something, one each: those that the kernel makes
// from a thermal zone are left to the zone.
func (s *Source) chips(ctx context.Context) ([]*chip, error) {
	dirs, err := s.tree.List(hwmonDir)
	if err != nil {
		return nil, err
	}
	var chips []*chip
	ids := map[string]int{}
	for _, d := range dirs {
		if ctx.Err() != nil {
			break
		}
		c := s.look(hwmonDir + "/" + d)
		if c == nil {
			continue
		}
		ids[c.id+c.name]++
		if n := ids[c.id+c.name]; n > 1 {
			c.id += fmt.Sprintf("#%d", n)
		}
		chips = append(chips, c)
	}
	entitle(chips)
	return chips, nil
}

// entitle gives each chip a title: its name, with the last part of its id where chips
// share the name, or the whole id where they share that too.
func entitle(chips []*chip) {
	names, short := map[string]int{}, map[string]int{}
	for _, c := range chips {
		names[c.name]++
		short[c.name+" "+path.Base(c.id)]++
	}
	for _, c := range chips {
		c.title = c.name
		if names[c.name] > 1 {
			c.title += " " + path.Base(c.id)
		}
		if short[c.title] > 1 {
			c.title = c.name + " " + c.id
		}
	}
}

// look examines one hwmon directory; nil if it measures nothing or repeats a zone. In
// the old layout name and values lie in the device's own directory.
func (s *Source) look(dir string) *chip {
	c := &chip{tree: s.tree, dir: dir}
	c.real, _ = s.tree.Real(dir + "/device")
	if strings.Contains(c.real, "/thermal_zone") {
		return nil
	}
	c.list()
	if len(c.found) == 0 {
		c.dir = dir + "/device"
		c.list()
	}
	if len(c.found) == 0 {
		return nil
	}
	c.name = s.tree.TextOr(dir+"/name", s.tree.TextOr(dir+"/device/name", "chip"))
	c.id, c.pci = identity(s.tree, c.real)
	if strings.HasPrefix(c.real, "sys/devices/LNXSYSTM:00/") && c.name == "chip" {
		c.name = firmwareName(c.id)
	}
	if c.pci != "" {
		status := s.tree.TextOr(c.pci+"/power/runtime_status", "unsupported")
		c.asleep = !gauge.Active([]byte(status))
	}
	return c
}

// firmwareName gives the driver's name for an ACPI device whose hwmon has none.
func firmwareName(id string) string {
	if strings.HasPrefix(id, "ACPI000D") {
		return "power_meter" // ACPI specification, 10.4 Power Meters
	}
	return "acpi"
}

func (c *chip) list() {
	c.files, c.found = map[string]bool{}, nil
	entries, err := c.tree.List(c.dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		c.files[e] = true
		if a, ok := parseAttribute(e); ok {
			c.found = append(c.found, a)
		}
	}
}

// open adds the chip's group, its thermal limit and its conditions to an inventory.
func (c *chip) open(inv *telemetry.Inventory) {
	p := c.pace()
	r := &gauge.Reader{}
	g := telemetry.Group{Name: c.title, Every: p.every, Slow: !p.fast, Reader: r}
	for _, a := range c.found {
		ch := c.channel(a, p)
		f, err := c.tree.Open(c.dir + "/" + a.file())
		if err != nil {
			inv.Missing = append(inv.Missing, telemetry.Missing{
				Name: ch.Name, Source: name, Role: ch.Role, Reason: err.Error(), Remedy: remedy(err)})
			continue
		}
		m := measures[a.kind]
		r.Attrs = append(r.Attrs, gauge.Attr{File: f, Scale: m.scale, Min: m.min, Max: m.max,
			Gates: c.gates(a), Die: ch.Role == telemetry.RoleDie || ch.Role == telemetry.RoleCore})
		g.Channels = append(g.Channels, ch)
	}
	if len(g.Channels) == 0 {
		return
	}
	if c.pci != "" {
		r.Awake, _ = c.tree.Open(c.pci + "/power/runtime_status")
	}
	inv.Groups = append(inv.Groups, g)
	if c.asleep {
		return
	}
	c.openLimits(inv, g)
	inv.Conditions = append(inv.Conditions, c.fanControl()...)
}

func (c *chip) pace() pace {
	var interval time.Duration
	if c.files["update_interval"] && !c.asleep {
		if ms, err := c.tree.Int(c.dir + "/update_interval"); err == nil {
			interval = time.Duration(ms) * time.Millisecond
		}
	}
	return paceOf(c.name, c.real, interval)
}

// channel describes an attribute. A PCI device numbers its attributes itself and may
// sleep, so its key goes without the label, which is not read then; elsewhere the label
// is the part that stays (coretemp numbers cores in the order in which they came up).
func (c *chip) channel(a attribute, p pace) telemetry.Channel {
	label := ""
	if c.files[a.base()+"_label"] && !c.asleep {
		label = c.tree.TextOr(c.dir+"/"+a.base()+"_label", "")
	}
	key := join(name, c.id, steadyName(c.name), a.channel())
	shown := a.channel()
	if label != "" {
		shown = label
		if a.item == "average" {
			shown += " average"
		}
		if a.kind == "pwm" {
			shown += " duty"
		}
		if c.pci == "" {
			key += ":" + slug(label)
		}
	}
	role, rank := c.roleOf(a, label)
	device := c.name
	if c.name != c.id {
		device += " at " + c.id
	}
	return telemetry.Channel{Key: key, Name: c.title + " " + shown, Quantity: measures[a.kind].quantity,
		Role: role, Rank: rank, Source: name, Device: device, Refresh: p.renews}
}

// gates opens the flags that say whether an attribute's value counts. pwmN_enable is a
// mode, not a switch.
func (c *chip) gates(a attribute) []gauge.Gate {
	var gates []gauge.Gate
	for _, flag := range []struct {
		suffix string
		bad    int64
	}{{"_fault", 1}, {"_enable", 0}} {
		if a.kind == "pwm" || !c.files[a.base()+flag.suffix] {
			continue
		}
		if f, err := c.tree.Open(c.dir + "/" + a.base() + flag.suffix); err == nil {
			gates = append(gates, gauge.Gate{File: f, Bad: flag.bad})
		}
	}
	return gates
}

func remedy(err error) string {
	if rawfs.StateOf(err) == telemetry.GapDenied {
		return "Give your group read access to this file."
	}
	return ""
}
