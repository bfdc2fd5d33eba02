// Package wire owns the messages between server and page, version 1: the binary frames
// of rows, events, skips and history, and the JSON bodies. DEVELOPERS.md holds the
// table; the golden files in testdata/wire are read by the page's tests too, so that
// the two sides cannot drift apart.
//
// Encoders append to a buffer that the caller owns and allocate nothing when it is
// large enough. All numbers are little endian; a value is a float32 in the channel's
// canonical unit and NaN in a gap.
//
// It must not know HTTP, WebSocket or where its numbers come from.
package wire
