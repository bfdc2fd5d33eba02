// Package session owns one running recording: what it is called and where it came from,
// its channels, its rows (in a ring), its marks, its scores and its setup. It wakes whoever follows
// it when something was added; what was added they fetch for themselves, so that a slow
// follower costs the sampler nothing.
//
// Texts of marks and settings are untrusted: they are cut to length and freed of control
// characters here, and still have to be escaped wherever they are shown.
//
// It knows nothing of sensors, archives, analysis or the server, and has no clock of its
// own: its time is the time of its newest row.
package session
