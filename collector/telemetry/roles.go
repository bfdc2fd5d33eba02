package telemetry

import (
	"fmt"
	"strings"

	"soakline/collector/quantity"
)

// shared roles may be held by several channels at once.
func (r Role) shared() bool { return r == RoleNone || r == RoleCore || r == RoleFan }

// roleQuantity is what a channel must measure to hold a role.
var roleQuantity = map[Role]quantity.Kind{
	RoleDie: quantity.Temperature, RolePower: quantity.Power, RoleEnergy: quantity.Energy,
	RoleClock: quantity.Frequency, RoleLoad: quantity.Share, RoleAmbient: quantity.Temperature,
	RoleFan: quantity.Rotation, RoleReasons: quantity.Bits, RoleLongLimit: quantity.Power,
	RoleShortLimit: quantity.Power, RoleLongWindow: quantity.Duration,
	RoleThermalLimit: quantity.Temperature, RoleThermalHits: quantity.Count,
	RoleCore: quantity.Temperature, RoleThroughput: quantity.Rate,
	RoleCoolantIn: quantity.Temperature, RoleCoolantOut: quantity.Temperature, RoleCoolantFlow: quantity.Flow,
	RoleSecondPower: quantity.Power, RoleSecondDie: quantity.Temperature,
}

// Roles lists every role that an override may name.
func Roles() []Role {
	return []Role{RoleDie, RolePower, RoleEnergy, RoleClock, RoleLoad, RoleAmbient, RoleFan, RoleReasons,
		RoleLongLimit, RoleShortLimit, RoleLongWindow, RoleThermalLimit, RoleThermalHits, RoleCore, RoleThroughput,
		RoleCoolantIn, RoleCoolantOut, RoleCoolantFlow, RoleSecondPower, RoleSecondDie}
}

// Resolve returns a copy of chs in which every role that only one channel may hold is
// held by one: the candidate of the highest Rank, the first of equals. The others keep
// no role. overrides maps a role to a channel name or key and beats every rank; a name
// that fits no channel, or a channel of the wrong quantity, is an error.
func Resolve(chs []Channel, overrides map[Role]string) ([]Channel, error) {
	out := make([]Channel, len(chs))
	copy(out, chs)
	best := map[Role]int{}
	for i, c := range out {
		if c.Role.shared() {
			continue
		}
		if j, seen := best[c.Role]; !seen || c.Rank > out[j].Rank {
			best[c.Role] = i
		}
	}
	for i := range out {
		if r := out[i].Role; !r.shared() && best[r] != i {
			out[i].Role = RoleNone
		}
	}
	for _, role := range Roles() {
		name, ok := overrides[role]
		if !ok {
			continue
		}
		i := find(out, name)
		if i < 0 {
			return nil, fmt.Errorf("role %s: no channel is called %q", role, name)
		}
		if want := roleQuantity[role]; out[i].Quantity != want {
			return nil, fmt.Errorf("role %s: channel %q measures %s, needed is %s", role, name, out[i].Quantity, want)
		}
		for j := range out {
			if out[j].Role == role && !role.shared() {
				out[j].Role = RoleNone
			}
		}
		out[i].Role = role
	}
	for role := range overrides {
		if _, ok := roleQuantity[role]; !ok {
			return nil, fmt.Errorf("role %q is not known; roles are %v", role, Roles())
		}
	}
	return out, nil
}

func find(chs []Channel, name string) int {
	for i := range chs {
		if chs[i].Key == name || strings.EqualFold(chs[i].Name, name) {
			return i
		}
	}
	return -1
}
