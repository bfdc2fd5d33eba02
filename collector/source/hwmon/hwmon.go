package hwmon

import (
	"context"
	"errors"
	"io/fs"

	"soakline/collector/rawfs"
	"soakline/collector/telemetry"
)

const (
	name     = "hwmon"
	hwmonDir = "sys/class/hwmon"
	zoneDir  = "sys/class/thermal"
)

// Source finds monitoring chips and thermal zones below a tree's root.
type Source struct{ tree *rawfs.Tree }

// New gives the source for a tree.
func New(tree *rawfs.Tree) *Source { return &Source{tree} }

var _ telemetry.Source = (*Source)(nil)

// Name implements telemetry.Source.
func (s *Source) Name() string { return name }

// Open implements telemetry.Source.
func (s *Source) Open(ctx context.Context) telemetry.Inventory {
	var inv telemetry.Inventory
	chips, err := s.chips(ctx)
	zones, zoneErr := s.zones(ctx)
	for _, c := range chips {
		c.open(&inv)
	}
	for _, z := range zones {
		z.open(&inv)
	}
	if len(inv.Groups) > 0 {
		return inv
	}
	inv.Status, inv.Reason = telemetry.NotHere, "no monitoring chip and no thermal zone below "+s.tree.Path("sys/class")
	for _, e := range []error{err, zoneErr} {
		switch {
		case errors.Is(e, errors.ErrUnsupported):
			inv.Reason = "sensor files are read on Linux only"
		case e != nil && !errors.Is(e, fs.ErrNotExist):
			inv.Status, inv.Reason = telemetry.Failed, e.Error()
		}
	}
	if len(inv.Missing) > 0 && inv.Status == telemetry.NotHere {
		inv.Status, inv.Reason = telemetry.Failed, "every sensor file refuses to open"
	}
	return inv
}
