package machine

import (
	"context"
	"testing"

	"soakline/collector/rawfs/rawfstest"
	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
)

// Every source runs on the machines that have its sensors and says why it does not on
// the others; over all sources a key stands once and the main roles are found.
func TestSourcesOnEveryMachine(t *testing.T) {
	type expect struct {
		running string
		roles   []telemetry.Role
	}
	for name, want := range map[string]expect{
		"intel-notebook": {"hwmon powercap cpufreq throttle host supply", []telemetry.Role{telemetry.RoleDie, telemetry.RolePower,
			telemetry.RoleEnergy, telemetry.RoleClock, telemetry.RoleLoad, telemetry.RoleLongLimit, telemetry.RoleShortLimit,
			telemetry.RoleLongWindow, telemetry.RoleThermalLimit, telemetry.RoleThermalHits, telemetry.RoleFan, telemetry.RoleCore}},
		"amd-desktop": {"hwmon powercap cpufreq host", []telemetry.Role{telemetry.RoleDie, telemetry.RolePower, telemetry.RoleClock,
			telemetry.RoleLoad, telemetry.RoleFan, telemetry.RoleCore}},
		"failing-board": {"hwmon host supply", []telemetry.Role{telemetry.RoleDie, telemetry.RoleLoad, telemetry.RoleThermalLimit}},
		"no-sensors":    {"host", []telemetry.Role{telemetry.RoleLoad}},
	} {
		t.Run(name, func(t *testing.T) {
			running, channels := "", []telemetry.Channel(nil)
			for _, s := range Sources(rawfstest.Unpack(t, name).Root) {
				inv := s.Open(context.Background())
				if inv.Status == telemetry.Running {
					running += " " + s.Name()
				}
				for _, g := range inv.Groups {
					channels = append(channels, g.Channels...)
					defer g.Reader.Close()
				}
			}
			if running != " "+want.running {
				t.Errorf("running:%s; want %s", running, want.running)
			}
			seen := map[string]bool{}
			for _, c := range channels {
				if seen[c.Key] {
					t.Errorf("key %q stands twice", c.Key)
				}
				seen[c.Key] = true
			}
			channels, err := telemetry.Resolve(channels, nil)
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range want.roles {
				if telemetry.IndexOf(channels, r) < 0 {
					t.Errorf("no channel holds the role %q", r)
				}
			}
		})
	}
}

// The sources keep the contract on the computer that runs the test, whatever it has; -v
// lists what was found.
func TestThisMachine(t *testing.T) {
	for i, s := range Sources("/") {
		sourcetest.Check(t, func() telemetry.Source { return Sources("/")[i] })
		inv := s.Open(context.Background())
		t.Logf("%-9s %-8s %s", s.Name(), inv.Status, inv.Reason)
		for _, g := range inv.Groups {
			out := make([]telemetry.Reading, len(g.Channels))
			g.Reader.Read(0, out)
			for i, c := range g.Channels {
				t.Logf("  %-30s %10.4g %-5s %-14s %s", c.Name, out[i].Value, c.Quantity.Symbol(), c.Role, out[i].State.Reason())
			}
		}
		for _, m := range inv.Missing {
			t.Logf("  missing %s: %s", m.Name, m.Reason)
		}
		for _, c := range inv.Conditions {
			t.Logf("  %s = %s", c.Key, c.Value)
		}
		sourcetest.Close(t, inv)
	}
}
