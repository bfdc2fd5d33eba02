// Package analysis answers, from a recorded or running trace, what a person at the
// bench asks: when was it loaded, where did the power land and when, what held the chip
// back, has it settled and where is it heading, what does the path of the heat look
// like, and how much room is left.
//
// It is pure: values and thresholds in, a [Result] out; no file, clock, log or
// goroutine, no change to its input, equal input gives equal bytes. It knows channels
// by their role and nothing of collector, server or web. The live view, the analyze
// command and the report all use it, so that they cannot disagree: [Analyze] pushes a
// whole trace through the same [Online] estimator that follows a running session.
package analysis
