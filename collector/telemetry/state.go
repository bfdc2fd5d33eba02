package telemetry

// State says what a reading is worth. The zero State is "no data": a Reading that
// nobody filled in can never pass for a measurement. Numbers are stable: they stand in
// archives and on the wire; add new ones at the end only.
type State uint8

// Fresh and Held carry a value; all others are gaps, and the value beside them is NaN.
const (
	NoData         State = iota // not read yet
	Fresh                       // measured for this tick
	Held                        // the last measurement: the channel is read or refreshed more slowly than the tick
	GapDenied                   // permission refused
	GapNotReady                 // the driver has no new conversion yet (EAGAIN)
	GapDisabled                 // switched off or nothing connected (ENODATA, ENXIO, a fault flag)
	GapIO                       // the bus or the firmware failed (EIO and its like)
	GapGone                     // the device is no longer there (ENODEV)
	GapImplausible              // the driver gave a value that cannot be true
	GapAsleep                   // the device sleeps and is left asleep
	GapTimeout                  // the read did not come back in time
	GapSuspended                // the machine itself was suspended
	GapCounter                  // a counter restarted or may have wrapped more than once
	GapEmpty                    // the file has no value here
	GapStale                    // the source stopped sending
	GapUnreadable               // text that is no number
	GapSilent                   // the other computer no longer answers
	numStates
)

var stateReasons = [numStates]string{
	NoData:         "not read yet",
	Fresh:          "",
	Held:           "",
	GapDenied:      "permission refused",
	GapNotReady:    "the driver had no new value ready",
	GapDisabled:    "sensor disabled or not connected",
	GapIO:          "the bus or firmware reported an error",
	GapGone:        "the device is gone",
	GapImplausible: "the driver gave an impossible value",
	GapAsleep:      "the device sleeps and was left asleep",
	GapTimeout:     "the read did not come back in time",
	GapSuspended:   "the machine was suspended",
	GapCounter:     "the energy counter restarted or may have wrapped unseen",
	GapEmpty:       "no value in the file",
	GapStale:       "the source stopped sending",
	GapUnreadable:  "the driver gave text that is no number",
	GapSilent:      "the other computer went silent",
}

// Usable is true where a value stands beside the state.
func (s State) Usable() bool { return s == Fresh || s == Held }

// Reason says in plain words why there is no value; it is empty where there is one.
func (s State) Reason() string {
	if s < numStates {
		return stateReasons[s]
	}
	return "unknown gap"
}

// NumStates is how many states there are; wire and archive tests walk them all.
const NumStates = int(numStates)
