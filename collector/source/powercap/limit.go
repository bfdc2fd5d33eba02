package powercap

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

// constraints maps a constraint's name to its words and the roles of a package's limit
// and window. Constraint numbers are closed up where one is missing, so the name counts.
var constraints = map[string]struct {
	words         string
	limit, window telemetry.Role
}{
	"long_term":  {"long-term", telemetry.RoleLongLimit, telemetry.RoleLongWindow},
	"short_term": {"short-term", telemetry.RoleShortLimit, telemetry.RoleNone},
	"peak_power": {"peak", telemetry.RoleNone, telemetry.RoleNone},
}

// What a limit and a window can be; 0 W stands in zones that have no such limit. The
// upper bounds only keep out all-ones words.
const (
	leastLimit  = 0.1  // W
	mostLimit   = 1e5  // W
	mostWindow  = 1e5  // s
	leastWindow = 1e-6 // s
	rankMapped  = 80   // the memory-mapped interface's limits
	rankPlain   = 90   // the register interface's
	rankLowest  = 100  // the lower of both
)

// limitReader reads limits and windows, then the lower of each pair of them.
type limitReader struct {
	gauge.Reader
	pairs []pair
}

// pair names two limits of the same package by index: whichever is lower holds.
type pair struct{ a, b int }

// Read implements telemetry.Reader.
func (r *limitReader) Read(at time.Duration, out []telemetry.Reading) {
	n := len(r.Attrs)
	r.Reader.Read(at, out[:n])
	for i, p := range r.pairs {
		out[n+i] = lowest(out[p.a], out[p.b])
	}
}

// openLimits makes one group of every limit and window of every zone that has them.
func (s *Source) openLimits(inv *telemetry.Inventory, zones []zone) {
	r := &limitReader{}
	g := telemetry.Group{Name: "power limits", Every: limitEvery, Reader: r}
	for _, z := range zones {
		for _, n := range s.constraints(z) {
			s.openConstraint(&g, r, z, n)
		}
	}
	r.pairs = pairLimits(&g)
	if len(g.Channels) > 0 {
		inv.Groups = append(inv.Groups, g)
		inv.Conditions = append(inv.Conditions, states(g)...)
	}
}

// states reads the packages' limits and windows once, as conditions of the setup.
func states(g telemetry.Group) []telemetry.Setting {
	out := make([]telemetry.Reading, len(g.Channels))
	g.Reader.Read(0, out)
	var all []telemetry.Setting
	for i, c := range g.Channels {
		if c.Role != telemetry.RoleNone && out[i].State.Usable() {
			all = append(all, telemetry.Setting{Key: c.Name, Value: fmt.Sprintf("%.4g %s", out[i].Value, c.Quantity.Symbol())})
		}
	}
	return all
}

// constraints lists the numbers of a zone's constraints.
func (s *Source) constraints(z zone) []string {
	entries, err := s.tree.List(z.dir)
	if err != nil {
		return nil
	}
	var numbers []string
	for _, e := range entries {
		if n, ok := strings.CutSuffix(e, "_name"); ok {
			if n, ok := strings.CutPrefix(n, "constraint_"); ok {
				if _, err := strconv.Atoi(n); err == nil {
					numbers = append(numbers, n)
				}
			}
		}
	}
	return numbers
}

func (s *Source) openConstraint(g *telemetry.Group, r *limitReader, z zone, n string) {
	base := z.dir + "/constraint_" + n
	c, known := constraints[s.tree.TextOr(base+"_name", "")]
	if !known {
		return
	}
	rank := rankPlain - z.index
	if z.repeated {
		rank = rankMapped - z.index
	}
	if w, err := s.tree.Int(base + "_power_limit_uw"); err != nil || w == 0 && !z.isPackage() {
		return // ENODATA or 0: this zone has no such limit
	}
	add := func(file, what string, q quantity.Kind, role telemetry.Role, least, most float64) {
		f, err := s.tree.Open(base + file)
		if err != nil {
			return
		}
		ch := z.channel(c.words+" "+what, q)
		if z.isPackage() && role != telemetry.RoleNone {
			ch.Role, ch.Rank = role, rank
		}
		r.Attrs = append(r.Attrs, gauge.Attr{File: f, Scale: 1e-6, Min: least, Max: most})
		g.Channels = append(g.Channels, ch)
	}
	add("_power_limit_uw", "limit", quantity.Power, c.limit, leastLimit, mostLimit)
	add("_time_window_us", "window", quantity.Duration, c.window, leastWindow, mostWindow)
}

// pairLimits adds, for each limit that two interfaces state for one package, a channel
// with the lower of the two, and gives it the role: firmware often moves one only.
// That the lower one holds is from memory; a run's plateau shows it.
func pairLimits(g *telemetry.Group) []pair {
	var pairs []pair
	own := len(g.Channels)
	for b := range own {
		cb := g.Channels[b]
		if cb.Quantity != quantity.Power || cb.Role == telemetry.RoleNone || !strings.HasPrefix(cb.Key, name+"/intel-rapl-mmio/") {
			continue
		}
		key := strings.Replace(cb.Key, "/intel-rapl-mmio/", "/intel-rapl/", 1)
		for a := range own {
			ca := g.Channels[a]
			if ca.Key != key {
				continue
			}
			pairs = append(pairs, pair{a, b})
			ca.Key += "/lower"
			ca.Name += ", the lower of both interfaces"
			ca.Rank += rankLowest - rankPlain
			g.Channels = append(g.Channels, ca)
		}
	}
	return pairs
}
