// Package feed reads instruments that the machine under test does not have: coolant
// thermometers, a flow meter, a thermocouple board, a wall-power meter. Whatever can
// write a line of text can feed: a script, a microcontroller, another program.
//
// # The line protocol, version 1
//
// One reading a line, in UTF-8, at most 1024 bytes, parts separated by blanks:
//
//	name value unit [time] [key=value ...]
//
//	"coolant in" 24.31 degC
//	flow 1.2 L/min 8123.50
//	wall 61.5 W 8123.50 seq=16247 window=0.5
//	"coolant out" - degC quality=fault
//	"socket energy" 1534.2 J kind=counter wrap=65536
//
// name is a word, or text in double quotes in which \" and \\ stand for themselves.
// value is a decimal number, or - where there is none; nan counts as none. unit is one
// that trace files have: degC K degF W mW rpm L/min % V A J s and so on (K is an
// absolute temperature, a difference is delta_K). A unit that is not known is refused
// by its name. time is when it was measured, in seconds of the sender's own clock,
// which need not agree with any other, or as RFC 3339.
//
// The fields, all optional:
//
//	seq=N       counts the readings of this channel without holes; a hole is noted
//	age=S       it was measured so many seconds before it was sent (or before time)
//	window=S    it is an average over so many seconds
//	quality=Q   ok, or why there is no good value: stale, asleep, fault, none
//	kind=K      gauge, or counter: a number that only grows; of energy it becomes power
//	wrap=N      the counter starts again at 0 there, in the unit of the line
//	role=R      what the channel means, with _ for blanks: role=ambient
//	device=D    what it sits on
//	sum=HH      last on the line: the exclusive or of all bytes before the blank in
//	            front of it, two hexadecimal digits; a line that it does not fit is refused
//
// A sender may introduce itself; numbers and times then start anew:
//
//	hello [source=TEXT] [host=TEXT] [interval=S] [stale=S]
//
// interval is the time between two readings, stale how long the last one stands; without
// them a reading stands for 5 s, with interval alone for three of them if that is
// longer. A line that begins with # and an empty line mean nothing.
//
// # What becomes of it
//
// A line that is not understood is counted and shown with its reason, and is never
// fatal. Lines out of order are dropped. The difference between the sender's clock and
// ours is estimated by the smallest delay of the last minute, as the clock filter of NTP
// prefers the sample of least delay (RFC 5905, section 10), so that readings that were
// held up on the way are known to be old. A sender that goes silent leaves gaps, and a
// mark when it goes and when it comes back. Channels appear when they are first seen.
//
// Lines come over one of the ways of [Ways]. Whatever fails is tried again, with pauses
// that double from 1 s to 30 s.
//
// The package knows the sampler only by the interfaces of telemetry, and of roles only
// what its Config lets it ask.
package feed
