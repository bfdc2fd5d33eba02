// Package faulty makes any source fail on purpose, at chosen times and in the ways that
// sensors fail: errors, hangs, panics, rubbish, repeats of an old value, a device that is
// pulled out and put back under another number. It serves tests; the binary never
// imports it.
//
// It knows the interfaces of telemetry and nothing of who reads.
package faulty
