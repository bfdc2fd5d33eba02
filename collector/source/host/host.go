// Package host owns what describes the computer as a whole: how busy its processors
// are, memory in use, and its identity. On Linux load and memory are read from /proc by
// one raw read each; on other systems they come from gopsutil, and so do the
// temperatures, which Linux has in package hwmon.
package host

import (
	"context"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/telemetry"
)

const name = "host"

// Source reads the computer below a tree's root.
type Source struct{ tree *rawfs.Tree }

// New gives the source for a tree. On other systems than Linux it reads the running
// machine whatever the root.
func New(tree *rawfs.Tree) *Source { return &Source{tree} }

var _ telemetry.Source = (*Source)(nil)

// Name implements telemetry.Source.
func (s *Source) Name() string { return name }

// Open implements telemetry.Source.
func (s *Source) Open(ctx context.Context) telemetry.Inventory {
	inv := s.open(ctx)
	inv.Conditions = s.identity(ctx)
	if len(inv.Groups) == 0 && inv.Status == telemetry.Running {
		inv.Status, inv.Reason = telemetry.Failed, "neither load nor memory can be read"
	}
	return inv
}

func loadChannel() telemetry.Channel {
	return telemetry.Channel{Key: name + "/load", Name: "load", Quantity: quantity.Share, Role: telemetry.RoleLoad, Rank: 100,
		Source: name, Device: "all processors"}
}

func memoryChannel() telemetry.Channel {
	return telemetry.Channel{Key: name + "/memory", Name: "memory in use", Quantity: quantity.Share, Source: name, Device: "memory"}
}
