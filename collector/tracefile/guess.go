package tracefile

import (
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// GuessRole is the role that a channel's name and quantity suggest, and its rank among
// other candidates, for whoever else takes channels by the names that people give them.
func GuessRole(name string, kind quantity.Kind) (telemetry.Role, int) { return guess(name, kind) }
