package telemetry

import (
	"context"
	"time"
)

// Source finds and reads one family of sensors. It is the one extension point of the
// collector: a new source is one package and one line of registration.
type Source interface {
	// Name is short and fixed: "hwmon".
	Name() string
	// Open looks at what is there and keeps open what is read often. It is called at
	// the start and again after a device came or went, and must give the same Keys for
	// the same devices each time. The caller closes every Reader of an Inventory that
	// it replaces.
	Open(ctx context.Context) Inventory
}

// Status is how a source's start went.
type Status uint8

// The three results of a start, each with its reason in Inventory.Reason.
const (
	Running Status = iota // it reads something
	NotHere               // this machine has none of it
	Failed                // it is there but cannot be read
)

func (s Status) String() string { return [...]string{"running", "not here", "failed"}[s] }

// Inventory is what a source found.
type Inventory struct {
	Status  Status
	Reason  string // why it is not running; "" if it is
	Groups  []Group
	Missing []Missing
	// Conditions are facts of the machine that belong to the setup: limits, window,
	// profile, lid, supply, governor, kernel.
	Conditions []Setting
}

// Group is a set of channels that are read together, at one pace, by one Reader.
type Group struct {
	Name     string // for logs and the cost table: "k10temp"
	Channels []Channel
	// Every is the shortest useful time between two reads; 0 is every tick.
	Every time.Duration
	// Slow groups may take more than a few milliseconds or hang: they are read on a
	// goroutine of their own from the start.
	Slow   bool
	Reader Reader
}

// Reader reads the channels of one Group.
type Reader interface {
	// Read fills out[i] with a reading of the group's channel i. at is the time at which
	// this read begins on the sampler's clock (monotonic, counts through suspend where
	// the system can tell); it lies at or a little after the tick, for simulated clocks
	// on it. It allocates nothing in steady state and keeps no reference to out.
	// An error is a State, never a zero; one bad channel never hides its neighbours.
	// Only one goroutine calls Read at a time.
	Read(at time.Duration, out []Reading)
	Close() error
}
