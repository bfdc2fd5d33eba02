package tracefile

import (
	"testing"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// The contract's reference is air or coolant at the inlet: never what comes out.
func TestCoolantThatLeavesIsNoReference(t *testing.T) {
	for name, want := range map[string]telemetry.Role{
		"coolant in": telemetry.RoleAmbient, "coolant": telemetry.RoleAmbient,
		"coolant out": telemetry.RoleNone, "water return": telemetry.RoleNone, "coolant outlet": telemetry.RoleNone,
	} {
		if got, _ := guess(name, quantity.Temperature); got != want {
			t.Errorf("%q is taken for %q, want %q", name, got, want)
		}
	}
}
