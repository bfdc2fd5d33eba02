// Package machine is the registry of the sources that read this computer: a new source
// is a package and one line here. It knows nothing of what they read.
package machine

import (
	"soakline/collector/rawfs"
	"soakline/collector/source/cpufreq"
	"soakline/collector/source/gpufs"
	"soakline/collector/source/host"
	"soakline/collector/source/hwmon"
	"soakline/collector/source/msr"
	"soakline/collector/source/nvml"
	"soakline/collector/source/powercap"
	"soakline/collector/source/supply"
	"soakline/collector/source/throttle"
	"soakline/collector/telemetry"
)

// Sources gives every source for the sensor files below root, "/" on a running machine.
func Sources(root string) []telemetry.Source {
	tree := rawfs.At(root)
	return []telemetry.Source{
		hwmon.New(tree),
		powercap.New(tree),
		cpufreq.New(tree),
		throttle.New(tree),
		host.New(tree),
		supply.New(tree),
		nvml.New(tree),
		gpufs.New(tree),
		msr.New(tree),
	}
}
