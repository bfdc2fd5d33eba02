package main

import (
	"fmt"
	"path"
	"path/filepath"
	"regexp"
	"strings"

	"golang.org/x/tools/txtar"

	"soakline/collector/rawfs"
)

// What is copied, by directory. No pattern fits an alarm flag, which a read may clear,
// a PCI configuration space, which wakes the device, or a serial number.
var (
	hwmonFiles  = regexp.MustCompile(`^(name|update_interval|pwm[0-9]+(_enable)?|(temp|fan|in|curr|power|energy|humidity|freq)[0-9]+_(input|average|label|fault|enable|crit|max|min))$`)
	zoneFiles   = regexp.MustCompile(`^(type|temp|mode)$`)
	powerFiles  = regexp.MustCompile(`^(name|enabled|energy_uj|max_energy_range_uj|constraint_[0-9]+_(name|power_limit_uw|time_window_us|max_power_uw))$`)
	supplyFiles = regexp.MustCompile(`^(type|scope|online|status|capacity|power_now|current_now|voltage_now)$`)
	policyFiles = regexp.MustCompile(`^(affected_cpus|scaling_(cur|max)_freq|scaling_driver|scaling_governor|energy_performance_preference|cpuinfo_max_freq)$`)
	hotFiles    = regexp.MustCompile(`^(core|package)_throttle_(count|total_time_ms)$`)
	placeFiles  = regexp.MustCompile(`^(physical_package_id|core_id|die_id)$`)
	profileFile = regexp.MustCompile(`^(name|profile|choices)$`)
	anyNumber   = regexp.MustCompile(`^cpu[0-9]+$`)
	ataPort     = regexp.MustCompile(`^ata[0-9]+$`)
)

// single files that are copied where they are.
var single = []string{
	"proc/stat", "proc/meminfo", "proc/cpuinfo", "proc/sys/kernel/osrelease",
	"sys/firmware/acpi/platform_profile", "sys/firmware/acpi/platform_profile_choices",
	"sys/devices/system/cpu/intel_pstate/no_turbo", "sys/devices/system/cpu/intel_pstate/max_perf_pct",
	"sys/devices/system/cpu/cpufreq/boost", "sys/bus/pci/devices/0000:00:04.0/tcc_offset_degree_celsius",
	"sys/class/dmi/id/product_name", "sys/class/dmi/id/board_name", "sys/class/dmi/id/bios_version",
}

type snap struct {
	tree    *rawfs.Tree
	archive txtar.Archive
	seen    map[string]bool
	failed  []string
}

func newSnap(tree *rawfs.Tree) *snap { return &snap{tree: tree, seen: map[string]bool{}} }

func (s *snap) all() {
	for _, f := range single {
		s.file(f)
	}
	s.class("sys/class/hwmon", hwmonFiles)
	s.class("sys/class/thermal", zoneFiles)
	s.class("sys/class/powercap", powerFiles)
	s.class("sys/class/power_supply", supplyFiles)
	s.class("sys/class/platform-profile", profileFile)
	s.class("sys/devices/system/cpu/cpufreq", policyFiles)
	const cpus = "sys/devices/system/cpu"
	entries, _ := s.tree.List(cpus)
	for _, e := range entries {
		if anyNumber.MatchString(e) {
			s.dir(cpus+"/"+e+"/topology", placeFiles)
			s.dir(cpus+"/"+e+"/thermal_throttle", hotFiles)
		}
	}
	lids, _ := s.tree.List("proc/acpi/button/lid")
	for _, l := range lids {
		s.file("proc/acpi/button/lid/" + l + "/state")
	}
	s.archive.Comment = []byte(s.comment())
}

func (s *snap) comment() string {
	text := "Provenance: recorded by snaptree; serial numbers and the host's name left out.\n" +
		"A member \"path -> target\" is a symbolic link.\n"
	if len(s.failed) > 0 {
		text += "Files that answered with an error when this was recorded:\n  " + strings.Join(s.failed, "\n  ") + "\n"
	}
	return text + "\n"
}

// class copies every entry of a class directory, its link, and what identifies the
// device behind it.
func (s *snap) class(dir string, files *regexp.Regexp) {
	entries, _ := s.tree.List(dir)
	for _, e := range entries {
		link := dir + "/" + e
		real, err := s.tree.Real(link)
		if err != nil {
			continue
		}
		s.link(link, real)
		device, err := s.tree.Real(link + "/device")
		if err == nil {
			s.link(real+"/device", device)
		}
		if asleep := s.identify(device); asleep {
			s.names(real, files)
			continue
		}
		s.dir(real, files)
		if err == nil && files == hwmonFiles && !s.tree.Exists(real+"/name") {
			s.dir(device, files) // the old layout
		}
	}
}

// identify copies the files by which a device is known: an SMBus adapter's name, a disk
// port's number, a PCI device's power state. It says whether that device sleeps.
func (s *snap) identify(device string) (asleep bool) {
	if device == "" {
		return false
	}
	s.add(device+"/uevent", "") // so that the directory is there; its text may hold serial numbers
	for d := device; strings.HasPrefix(d, "sys/devices/"); d = path.Dir(d) {
		base := path.Base(d)
		if strings.HasPrefix(base, "i2c-") {
			s.file(d + "/name")
		}
		if ataPort.MatchString(base) {
			s.file(d + "/ata_port/" + base + "/port_no")
		}
		if strings.Count(base, ":") == 2 && s.tree.Exists(d+"/power/runtime_status") {
			s.file(d + "/power/runtime_status")
			status := s.tree.TextOr(d+"/power/runtime_status", "active")
			asleep = asleep || (status != "active" && status != "unsupported")
		}
	}
	return asleep
}

func (s *snap) dir(dir string, files *regexp.Regexp) {
	entries, _ := s.tree.List(dir)
	for _, e := range entries {
		if files.MatchString(e) {
			s.file(dir + "/" + e)
		}
	}
}

// names copies what a sleeping device has but not what it would say.
func (s *snap) names(dir string, files *regexp.Regexp) {
	s.file(dir + "/name") // kept by the kernel, not the device
	entries, _ := s.tree.List(dir)
	for _, e := range entries {
		if files.MatchString(e) {
			s.add(dir+"/"+e, "")
		}
	}
}

// file copies one file; one that fails is noted, not invented.
func (s *snap) file(p string) {
	if s.seen[p] || !s.tree.Exists(p) {
		return
	}
	text, err := s.tree.Text(p)
	if err != nil {
		s.failed = append(s.failed, strings.ReplaceAll(fmt.Sprint(err), s.tree.Path("")+"/", "/"))
		return
	}
	switch p {
	case "proc/stat":
		text = lines(text, "cpu")
	case "proc/meminfo":
		text = lines(text, "Mem")
	}
	if strings.Contains("\n"+text, "\n-- ") {
		s.failed = append(s.failed, p+": its text would end the archive's member")
		return
	}
	if text != "" {
		text += "\n"
	}
	s.add(p, text)
}

// lines keeps the lines of a text that begin with prefix.
func lines(text, prefix string) string {
	var kept []string
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, prefix) {
			kept = append(kept, strings.TrimRight(line, "\n"))
		}
	}
	return strings.Join(kept, "\n")
}

func (s *snap) link(p, target string) {
	if p == target {
		return
	}
	rel, err := filepath.Rel(path.Dir(p), target)
	if err == nil {
		s.add(p+" -> "+filepath.ToSlash(rel), "")
	}
}

func (s *snap) add(name, text string) {
	if !s.seen[name] {
		s.seen[name] = true
		s.archive.Files = append(s.archive.Files, txtar.File{Name: name, Data: []byte(text)})
	}
}
