package host

import (
	"errors"
	"math"
	"strings"
	"testing"

	"soakline/collector/telemetry"
)

func TestZones(t *testing.T) {
	zones := unique([]zone{{`ACPI\ThermalZone\TZ00_0`, 40}, {"same", 1}, {"same", 2}, {"same", 3}})
	if zones[1].key != "same" || zones[2].key != "same#2" || zones[3].key != "same#3" {
		t.Errorf("%+v", zones)
	}
	c := zoneChannel("windows", zones[0])
	if c.Role != telemetry.RoleDie || c.Rank > 10 || !strings.Contains(c.Device, "may be constant") {
		t.Errorf("%+v: a firmware zone must not pass for a sensor of the processor", c)
	}
	if c := zoneChannel("openbsd", zones[1]); c.Role != telemetry.RoleNone || c.Device == "" {
		t.Errorf("%+v", c)
	}
}

// What zones without a sensor give is no temperature: 0 K, codes of 8 bits at their end,
// and 65535 tenths of a kelvin.
func TestZoneReadings(t *testing.T) {
	for _, v := range []float64{0, -273.15, 127, 128, 255, 6279.85, math.NaN(), math.Inf(1)} {
		if r := zoneReading(v); r.State != telemetry.GapImplausible || !math.IsNaN(r.Value) {
			t.Errorf("%v became %+v", v, r)
		}
	}
	if r := zoneReading(39.85); r != (telemetry.Reading{Value: 39.85, State: telemetry.Fresh}) {
		t.Errorf("%+v", r)
	}
}

// Every gap of these systems has a reason and a way out, and none promises what is not.
func TestWhatIsMissingElsewhere(t *testing.T) {
	list := append(withoutDriver(), noZones("windows", errors.New("access denied")), noZones("windows", nil), noZones("darwin", nil), noZones("openbsd", errors.New("not implemented yet")))
	roles := map[telemetry.Role]bool{}
	for _, m := range list {
		if m.Name == "" || m.Reason == "" || m.Source != name || !strings.Contains(m.Remedy, "--feed") {
			t.Errorf("%+v", m)
		}
		roles[m.Role] = true
	}
	for _, r := range []telemetry.Role{telemetry.RolePower, telemetry.RoleDie, telemetry.RoleClock, telemetry.RoleReasons} {
		if !roles[r] {
			t.Errorf("nothing is said of %s", r)
		}
	}
	if m := noZones("windows", errors.New("access denied")); !strings.Contains(m.Reason, "access denied") || !strings.Contains(m.Remedy, "administrator") {
		t.Errorf("%+v", m)
	}
}
