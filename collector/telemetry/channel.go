package telemetry

import (
	"time"

	"soakline/collector/quantity"
)

// Role is what a channel means to the analysis.
type Role string

// The roles. At most one channel of a session holds each of them, but for RoleNone,
// RoleCore and RoleFan.
const (
	RoleNone         Role = ""
	RoleDie          Role = "die"              // the hottest junction sensor
	RolePower        Role = "package power"    // or board power, where that is what the device measures
	RoleEnergy       Role = "package energy"   // the counter behind it
	RoleClock        Role = "core clock"       //
	RoleLoad         Role = "load"             // busy share
	RoleAmbient      Role = "ambient"          // the reference temperature: air or coolant at the inlet
	RoleFan          Role = "fan"              //
	RoleReasons      Role = "reasons"          // the hardware's own limit reasons, a bit mask
	RoleLongLimit    Role = "long-term limit"  // PL1
	RoleShortLimit   Role = "short-term limit" // PL2
	RoleLongWindow   Role = "limit window"     // tau as the hardware states it
	RoleThermalLimit Role = "thermal limit"    // the temperature at which the hardware holds back
	RoleThermalHits  Role = "thermal hits"     // a counter of thermal-limit episodes
	RoleCore         Role = "core temperature" // one core among several
	RoleThroughput   Role = "throughput"       // work done a second
	RoleCoolantIn    Role = "coolant in"       // liquid before the cold plate
	RoleCoolantOut   Role = "coolant out"      // liquid after it
	RoleCoolantFlow  Role = "coolant flow"     //
	RoleSecondPower  Role = "second power"     // another heat source on the same cooler: graphics beside cores
	RoleSecondDie    Role = "second die"       // the hottest junction of that source
)

// Channel is one measured quantity over time. Values are in the canonical unit of its
// Quantity.
type Channel struct {
	// Key is stable over reboots and replugging: source, device and attribute, never a
	// number that the kernel hands out in probe order. Unique within a session.
	Key string
	// Name is what people call it. It may come from a driver, a file or another
	// computer: it is untrusted text on every screen.
	Name     string
	Quantity quantity.Kind
	Role     Role
	// Rank orders candidates for the same role: the highest keeps it. See Resolve.
	Rank   int
	Source string // the source's name: "hwmon", "powercap", "rig" ...
	Device string // what it sits on, in plain words
	// Refresh is how often the hardware or driver renews the value; 0 is unknown.
	Refresh time.Duration
	// Labels names the values of a Label channel: value v stands for Labels[int(v)].
	Labels []string
	// Bits names the bits of a Bits channel and says what each means as a limiter.
	Bits []ReasonBit
	// Simulated channels are computed, not measured; every screen and file says so.
	Simulated bool
}

// ReasonBit explains one bit of a hardware reason mask.
type ReasonBit struct {
	Mask    uint64
	Name    string // the vendor's own name for it
	Limiter string // the limiter kind of contract.md that it stands for, or ""
}

// Missing is a channel that could be there and is not.
type Missing struct {
	Name   string
	Source string
	Role   Role   // the role it would have had, if any
	Reason string // why it is missing: "open ...: permission denied"
	Remedy string // what the user can do: a plain sentence, or ""
}

// Setting is one condition of the setup: "cooler" = "fan cooler, as delivered".
type Setting struct{ Key, Value string }

// MarkKind tells who made a mark.
type MarkKind string

// The kinds of mark.
const (
	MarkUser    MarkKind = "user"    // typed or pressed by a person
	MarkMachine MarkKind = "machine" // soakline saw a condition change
	MarkCommand MarkKind = "command" // start and end of a recorded command
)

// Mark is a note pinned to a time.
type Mark struct {
	ID   int64   // unique within the session, 0 before it is stored
	At   float64 // s since the session's first sample
	Kind MarkKind
	Text string // untrusted text
}

// Score is what a run achieved: "total" = 1510 points, more is better.
type Score struct {
	Name           string // untrusted text
	Value          float64
	Unit           string // as the user writes it, untrusted text
	HigherIsBetter bool
	// At is the time at which it was noted, s since the session's first sample: it
	// belongs to the last load that began before it.
	At float64
}

// Reading is one value with its state. The zero Reading is "no data".
type Reading struct {
	Value float64 // NaN unless State is usable
	State State
}

// Row is all channels at one tick. Its slices belong to the sender: a receiver that
// keeps them copies them.
type Row struct {
	Seq      uint64        // counts ticks from 1 without holes
	At       float64       // s since the session's first sample
	Lateness time.Duration // how long after its deadline the tick was taken
	Values   []float64     // by channel index; NaN in a gap
	States   []State
}
