// Package cpufreq owns the processor's clocks as the kernel's frequency policies state
// them (kernel: Documentation/admin-guide/pm/cpufreq.rst): one clock a policy, the
// highest of them, and the mean weighted by how busy each policy's processors were.
//
// On x86 scaling_cur_freq is worked out from the hardware's APERF and MPERF counters at
// the last scheduler tick; for a processor that was idle it falls back to a requested or
// base clock (kernel: arch/x86/kernel/cpu/aperfmperf.c). An idle processor's clock is
// thus a fiction, and the plain maximum or mean is drawn towards it. The core clock is
// therefore the busy-weighted mean; the maximum stands beside it.
package cpufreq

import (
	"context"
	"errors"
	"io/fs"
	"strconv"
	"strings"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

const (
	name = "cpufreq"
	dir  = "sys/devices/system/cpu/cpufreq"
	// mostClock keeps out all-ones words, MHz.
	mostClock = 20000
)

// Source finds frequency policies below a tree's root.
type Source struct{ tree *rawfs.Tree }

// New gives the source for a tree.
func New(tree *rawfs.Tree) *Source { return &Source{tree} }

var _ telemetry.Source = (*Source)(nil)

// Name implements telemetry.Source.
func (s *Source) Name() string { return name }

// Open implements telemetry.Source.
func (s *Source) Open(context.Context) telemetry.Inventory {
	var inv telemetry.Inventory
	entries, err := s.tree.List(dir)
	g := telemetry.Group{Name: "clocks", Every: pace(s.tree.TextOr("proc/sys/kernel/osrelease", ""))}
	r := &clockReader{}
	var policies []string
	for _, e := range entries {
		if n, ok := strings.CutPrefix(e, "policy"); ok {
			s.openPolicy(&inv, &g, r, e, n)
			policies = append(policies, e)
		}
	}
	if len(g.Channels) == 0 {
		inv.Status, inv.Reason = telemetry.NotHere, "no frequency policy below "+s.tree.Path(dir)
		switch {
		case errors.Is(err, errors.ErrUnsupported):
			inv.Reason = "sensor files are read on Linux only"
		case err != nil && !errors.Is(err, fs.ErrNotExist):
			inv.Status, inv.Reason = telemetry.Failed, err.Error()
		case len(inv.Missing) > 0:
			inv.Status, inv.Reason = telemetry.Failed, inv.Missing[0].Reason
		}
		return inv
	}
	g.Channels = append(g.Channels,
		telemetry.Channel{Key: name + "/highest", Name: "highest clock", Quantity: quantity.Frequency, Role: telemetry.RoleClock, Rank: 80,
			Source: name, Device: "all processors"},
		telemetry.Channel{Key: name + "/busy-mean", Name: "core clock", Quantity: quantity.Frequency, Role: telemetry.RoleClock, Rank: 100,
			Source: name, Device: "all processors, weighted by busy time"})
	r.openBusy(s.tree)
	g.Reader = r
	inv.Groups = []telemetry.Group{g}
	inv.Conditions = s.conditions(policies)
	return inv
}

func (s *Source) openPolicy(inv *telemetry.Inventory, g *telemetry.Group, r *clockReader, entry, number string) {
	title := "clock of processor " + strings.Join(strings.Fields(s.tree.TextOr(dir+"/"+entry+"/affected_cpus", number)), " ")
	f, err := s.tree.Open(dir + "/" + entry + "/scaling_cur_freq")
	if err != nil {
		inv.Missing = append(inv.Missing, telemetry.Missing{Name: title, Source: name, Reason: err.Error()})
		return
	}
	r.Attrs = append(r.Attrs, gauge.Attr{File: f, Scale: 1e-3, Min: 1, Max: mostClock})
	r.cpus = append(r.cpus, parseList(s.tree.TextOr(dir+"/"+entry+"/affected_cpus", number)))
	g.Channels = append(g.Channels, telemetry.Channel{Key: name + "/" + entry, Name: title,
		Quantity: quantity.Frequency, Source: name, Device: "frequency " + entry})
}

// pace spares older kernels, where each read interrupts the processor, idle or not. The
// rework that reads the last scheduler tick's value came with 5.19 (from memory).
func pace(release string) time.Duration {
	if major, minor, ok := parseRelease(release); ok && (major < 5 || major == 5 && minor < 19) {
		return time.Second
	}
	return 0
}

// parseRelease reads the two leading numbers of a kernel release: "6.1.0-56-amd64".
func parseRelease(s string) (major, minor int, ok bool) {
	a, rest, found := strings.Cut(s, ".")
	end := 0
	for end < len(rest) && rest[end] >= '0' && rest[end] <= '9' {
		end++
	}
	major, err1 := strconv.Atoi(a)
	minor, err2 := strconv.Atoi(rest[:end])
	return major, minor, found && err1 == nil && err2 == nil && major >= 0
}

// parseList reads processor numbers separated by blanks, or ranges as in "0-3,8". What
// is no number is left out.
func parseList(s string) []int {
	var cpus []int
	for _, part := range strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == ',' || r == '\n' || r == '\t' }) {
		low, high, isRange := strings.Cut(part, "-")
		a, err := strconv.Atoi(low)
		if err != nil || a < 0 {
			continue
		}
		b := a
		if isRange {
			if b, err = strconv.Atoi(high); err != nil {
				continue
			}
		}
		for n := a; n <= b && len(cpus) < mostProcessors; n++ {
			cpus = append(cpus, n)
		}
	}
	return cpus
}

// mostProcessors is NR_CPUS of the largest kernels that are built.
const mostProcessors = 8192
