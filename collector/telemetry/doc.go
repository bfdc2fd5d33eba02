// Package telemetry owns the words that all of soakline shares.
//
// A [Channel] is one measured quantity over time; its [Role] is what it means to the
// analysis; a [Reading] is one value of it together with its [State], so that a gap is
// a gap with a reason and never a 0. A [Source] finds and reads one family of sensors
// and offers its channels in [Group]s that are read together. A [Row] is all channels
// at one tick. A [Mark] is a note pinned to a time, a [Setting] one condition of the
// setup. A [Trace] is a whole recording in columns, which is what the analysis takes.
//
// It holds no sensor, no file, no clock and no goroutine, and imports only quantity.
package telemetry
