package host

import (
	"context"
	"fmt"
	"strings"

	"github.com/shirou/gopsutil/v3/common"
	"github.com/shirou/gopsutil/v3/cpu"
	"github.com/shirou/gopsutil/v3/host"

	"soakline/collector/telemetry"
)

// identity states which computer this is, as far as a comparison needs it. Serial
// numbers are left out.
func (s *Source) identity(ctx context.Context) []telemetry.Setting {
	var all []telemetry.Setting
	add := func(key, value string) {
		if value = strings.TrimSpace(value); value != "" {
			all = append(all, telemetry.Setting{Key: key, Value: value})
		}
	}
	hostName, kernel := s.tree.TextOr("proc/sys/kernel/hostname", ""), s.tree.TextOr("proc/sys/kernel/osrelease", "")
	if s.tree.IsMachine() && (hostName == "" || kernel == "") {
		if info, err := host.InfoWithContext(ctx); err == nil {
			hostName, kernel = info.Hostname, info.Platform+" "+info.KernelVersion
		}
	}
	add("host", hostName)
	add("kernel", kernel)
	if infos, err := cpu.InfoWithContext(s.within(ctx)); err == nil && len(infos) > 0 {
		add("processor", infos[0].ModelName)
		add("microcode", infos[0].Microcode)
		if n := processors(infos); n > 0 {
			add("processors", fmt.Sprint(n))
		}
	}
	for _, d := range []struct{ key, file string }{{"product", "product_name"}, {"board", "board_name"}, {"firmware", "bios_version"}} {
		add(d.key, s.tree.TextOr("sys/class/dmi/id/"+d.file, ""))
	}
	return all
}

// within points gopsutil at the tree instead of the running machine.
func (s *Source) within(ctx context.Context) context.Context {
	if s.tree.IsMachine() {
		return ctx
	}
	return context.WithValue(ctx, common.EnvKey, common.EnvMap{
		common.HostProcEnvKey: s.tree.Path("proc"), common.HostSysEnvKey: s.tree.Path("sys")})
}

// processors counts threads: Linux lists each, other systems list packages with a count.
func processors(infos []cpu.InfoStat) int {
	n := 0
	for _, i := range infos {
		n += max(1, int(i.Cores))
	}
	return n
}
