package cpufreq

import (
	"fmt"
	"slices"
	"strings"

	"soakline/collector/rawfs"
	"soakline/collector/telemetry"
)

// conditions states what steers the clocks: driver, governor, preference, turbo, the
// highest clock. Where policies differ all values stand.
func (s *Source) conditions(policies []string) []telemetry.Setting {
	var all []telemetry.Setting
	add := func(key, value string) {
		if value != "" {
			all = append(all, telemetry.Setting{Key: key, Value: value})
		}
	}
	add("clock driver", s.each(policies, "scaling_driver", plainText))
	add("clock governor", s.each(policies, "scaling_governor", plainText))
	add("energy preference", s.each(policies, "energy_performance_preference", plainText))
	add("highest clock of the hardware", s.each(policies, "cpuinfo_max_freq", megahertz))
	add("clock limit", s.each(policies, "scaling_max_freq", megahertz))
	add("turbo", s.turbo())
	if pct := s.tree.TextOr("sys/devices/system/cpu/intel_pstate/max_perf_pct", ""); pct != "" {
		add("highest performance", pct+" %")
	}
	return all
}

func (s *Source) each(policies []string, file string, show func(string) string) string {
	var values []string
	for _, p := range policies {
		if v := show(s.tree.TextOr(dir+"/"+p+"/"+file, "")); v != "" && !slices.Contains(values, v) {
			values = append(values, v)
		}
	}
	return strings.Join(values, ", ")
}

func plainText(s string) string {
	if strings.HasPrefix(s, "<") {
		return ""
	}
	return s
}

func megahertz(s string) string {
	khz, state := rawfs.ParseInt([]byte(s))
	if state != telemetry.Fresh || khz <= 0 {
		return ""
	}
	return fmt.Sprintf("%d MHz", khz/1000)
}

// turbo reads either driver's switch: no_turbo is 1 where it is off, boost where it is on.
func (s *Source) turbo() string {
	words := map[string]string{"no_turbo 0": "allowed", "no_turbo 1": "off", "boost 1": "allowed", "boost 0": "off"}
	if v := s.tree.TextOr("sys/devices/system/cpu/intel_pstate/no_turbo", ""); v != "" {
		return words["no_turbo "+v]
	}
	return words["boost "+s.tree.TextOr(dir+"/boost", "")]
}
