// Package sampler owns the ticks of a running session: absolute deadlines, who is read
// when, what a late, hanging, failing or vanished reader does to the row (it makes a gap
// with a reason in its own channels and nothing in others), and what all this costs.
//
// Groups are read in two ways. Fast ones are read one after the other by the goroutine
// that drives the ticks, every tick or at their own pace. Slow ones each have a goroutine
// of their own and hand in their readings when they have them. A fast group whose reads
// take long becomes a slow one; where a fast group does not come back at all, its
// goroutine is left to it and another one drives on, in the same tick.
//
// It sees sources, clocks and a sink as interfaces, and knows no concrete source, no
// ring, archive, analysis or server.
package sampler
