// Package tracefile owns the trace file: plain RFC 4180 CSV in UTF-8, one row a sampling
// instant, that people and scripts write by hand and that soakline exports. It knows
// nothing of SQL, sensors, screens or the analysis.
//
// The first line that is not a note is the header, its first cell the time:
//
//	# setup: cooler = fan cooler, as delivered
//	# mark: 62.5 panel back on
//	time [s],package power [W],die temperature [degC]
//	0,5.912,41
//	0.1,,42
//
// A header cell is a name and its unit in square brackets; the endings _w, _mw, _c,
// _mhz, _rpm, _pct and their like are read too, and empty brackets mean a plain number.
// An empty cell is a gap. Time is seconds or, in a column called time, RFC 3339; it is
// counted from the first sample, and the marks with it. Reading takes a byte-order mark
// and CRLF line ends; spaces around an unquoted cell do not count.
//
// Notes are lines that begin with #. Those that mean something:
//
//	# setup: key = value         a condition; a value or key in double quotes is read as
//	                             a Go string literal, so that it may hold any character
//	# mark: 62.5 text            a note pinned to a time; (machine) or (command) before
//	                             the text says who made it
//	# start: 2026-03-01T20:15:00Z   the wall-clock time of the first sample
//	# role: die = cpu 0          what a channel means, where its name does not say it;
//	                             the role none takes a role away
//	# bit: reasons = 0x4 power-long name   one bit of a reason mask: channel, mask,
//	                             limiter kind ("-" for none) and the maker's name
//	# setup: reasons = accelerator event reasons   the bits are those of the management
//	                             library of accelerator cards, see [AcceleratorReasons];
//	                             "# setup: sensors = ... management library ..." says so too
//	# setup: simulated = yes     nothing in the file was measured
//
//	# score: total = 1510 [points], higher is better, at 270 s   what a run achieved
//
// All other notes are comments. Notes may also stand between rows.
//
// Files of other make are read too: cells separated by semicolons or tabs, with decimal
// commas then; a column of time anywhere, as a time of day or a date as well; units in
// round brackets or behind the name; units guessed from names that state none, which
// [Rows.Guesses] tells. A mapping of columns ([Assignment]) says what cannot be guessed.
// What is written is always the form above. [Rows] reads piece by piece, whatever the
// file's length, and [Merge] puts several files on one clock.
package tracefile
