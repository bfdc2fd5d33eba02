package session

import (
	"slices"

	"soakline/collector/telemetry"
)

// Difference is a condition that stands otherwise in two setups; "" is not there.
type Difference struct{ Key, Before, Now string }

// Differences gives what differs between an earlier setup and the present one: the keys
// in the order of now, then those that only before has.
func Differences(before, now []telemetry.Setting) []Difference {
	var out []Difference
	for _, n := range now {
		if b := valueOf(before, n.Key); b != n.Value {
			out = append(out, Difference{n.Key, b, n.Value})
		}
	}
	for _, b := range before {
		if !holds(now, b.Key) {
			out = append(out, Difference{b.Key, b.Value, ""})
		}
	}
	return out
}

// TakeOver gives the conditions of an earlier setup that now lacks. What the machine or
// the user says now stands: only what nobody said is taken over.
func TakeOver(earlier, now []telemetry.Setting) []telemetry.Setting {
	var out []telemetry.Setting
	for _, e := range earlier {
		if !holds(now, e.Key) {
			out = append(out, e)
		}
	}
	return out
}

func valueOf(setup []telemetry.Setting, key string) string {
	if i := slices.IndexFunc(setup, func(s telemetry.Setting) bool { return s.Key == key }); i >= 0 {
		return setup[i].Value
	}
	return ""
}

func holds(setup []telemetry.Setting, key string) bool {
	return slices.ContainsFunc(setup, func(s telemetry.Setting) bool { return s.Key == key })
}
