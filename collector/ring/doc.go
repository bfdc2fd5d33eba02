// Package ring holds what a running session remembers, in fixed memory: every row of
// the last hour and a day in tiers of minimum, mean and maximum.
//
// One goroutine writes ([Ring.Append], [Ring.Extend]); any number read, and none of them
// ever makes the writer wait. Rows and closed buckets live in chunks of columns. A row
// below a chunk's published count is immutable; when a chunk has grown too old the writer
// uses its memory again, unless a reader still holds it, in which case the writer takes
// new memory and leaves the old chunk to the garbage collector.
//
// It knows nothing of sensors, sessions, files or analysis, and has no clock.
package ring
