// Package plan owns the plan of a measurement: rest, load and cooling in a fixed order,
// repeated, over one or several setups in an order that keeps a drifting room from
// looking like a gain.
//
// [Parse] reads a plan from its YAML file and says of every mistake at which line and
// column it stands. [Plan.Turns] gives the runs in the order in which they are made.
// [Runner] goes through the phases of one run: it is told each row and answers what is to
// be done (start a load, end it, note, ask), and holds the guard over the die that ends a
// load above the user's limit or without a die temperature.
//
// It is pure: no clock, file, goroutine or sensor; time is the time of the rows. It knows
// nothing of how a load is made, of sessions, archives or screens.
package plan
