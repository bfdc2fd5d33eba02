// Package relay follows a soakline on another computer through its documented stream
// (DEVELOPERS.md, "Frames and messages"), so that a recording here survives a crash of
// the machine under test with the data up to the last row that arrived.
//
// It is a source and a clock in one: [Source] offers the other's channels under their own
// keys, and [Source.Clock] makes one tick of each of its rows, at the other's own time,
// so that nothing is sampled twice. Rows that were missed on the way are fetched, as
// long as the other still holds them. When nothing comes, the clock goes on by itself
// and the channels are gaps; marks say when contact was lost and when it came back.
//
// Names and texts from the other computer are untrusted. The package reads the frames by
// their table, not by the server's code: the golden frames hold both to it.
package relay
