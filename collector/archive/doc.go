// Package archive keeps sessions in one SQLite file: while they are recorded, when the
// machine crashes in the middle, and for as long as the user wants them afterwards.
//
// A [Recorder] follows a running session and commits once a second, with a flush to the
// disk, on a goroutine of its own: a slow or full disk never delays a sample, and a crash
// costs the last second at most. When the session ends its blocks are packed. What a
// crash left open is closed at the next [Open], with the mark [BrokenOff] at its last
// row. Any number of processes may list and load while others record.
//
// A deleted session can be restored until [Store.Purge] removes it; a pinned one is never
// removed by itself, whatever the user asked to [Store.Keep].
//
// The schema, with the layout of the blocks, is in schema.sql, and what each later version
// added in schema2.sql and so on. Its version is SQLite's user_version; older files are
// migrated when opened, newer ones are refused.
//
// It knows nothing of sensors, analysis or the server.
package archive
