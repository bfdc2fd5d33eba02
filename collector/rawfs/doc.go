// Package rawfs is the only opener of sensor files. It opens read-only, keeps the
// descriptors, reads a file anew with one raw pread(2) at offset 0 into a buffer of its
// own, and turns a failure into a telemetry.State.
//
// It never goes through os.File: the runtime's poller takes sysfs descriptors, and an
// EAGAIN from a driver whose conversion is not ready would then block the read for
// seconds or for ever. A pread at offset 0 makes sysfs call the driver again
// (kernel: Documentation/filesystems/sysfs.rst).
//
// It knows no write flag and nothing of what a file means. On systems other than Linux
// every open fails with errors.ErrUnsupported.
package rawfs
