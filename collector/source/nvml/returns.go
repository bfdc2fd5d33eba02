package nvml

import "soakline/collector/telemetry"

// code is what a function of the library returns (nvmlReturn_t in nvml.h).
type code uint32

const (
	success          code = 0
	notSupported     code = 3
	notFound         code = 6
	functionNotFound code = 13
	notAsked         code = 0xffffffff // ours
)

var codeNames = [...]string{
	0: "success", 1: "the library is not initialised", 2: "invalid argument", 3: "not supported by this card",
	4: "permission refused", 5: "already initialised", 6: "not found", 7: "insufficient size",
	8: "a power cable of the card is not attached properly", 9: "the driver is not loaded", 10: "timed out",
	11: "the kernel found an interrupt problem with the card", 12: "a library is missing", 13: "the library has no such function",
	14: "the card's information memory is corrupt", 15: "the card has fallen off the bus", 16: "the card needs a reset",
	17: "the operating system blocks the card", 18: "driver and library are of different versions", 19: "the card is in use",
	20: "out of memory", 21: "no data", 22: "not available with error correction on", 23: "out of resources",
	24: "frequency not supported", 25: "the library is of another version", 26: "no longer offered",
	27: "not ready", 28: "no card found", 29: "invalid state",
}

func (c code) String() string {
	switch {
	case int(c) < len(codeNames):
		return codeNames[c]
	case c == notAsked:
		return "not asked"
	}
	return "unknown error of the driver"
}

// state says what a return value means for a reading. Values that the header does not
// have, or has from a newer version, count as a failure of the driver.
func (c code) state() telemetry.State {
	switch c {
	case success:
		return telemetry.Fresh
	case notAsked:
		return telemetry.NoData
	case 3, 6, 12, 13, 22, 24, 26, 25: // this card or driver has no such value
		return telemetry.GapDisabled
	case 4, 17: // no permission, blocked by the system
		return telemetry.GapDenied
	case 10:
		return telemetry.GapTimeout
	case 15, 28, 9: // lost, not found, driver gone
		return telemetry.GapGone
	case 19, 21, 27: // in use, no data, not ready
		return telemetry.GapNotReady
	}
	return telemetry.GapIO
}
